"""Where tables begin and end among the records of a file: preamble, header, entries, and the next table."""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from gramrise.intake.files.cell_shapes import looks_number, looks_timed
from gramrise.intake.files.delimited import DELIMITERS, Record
from gramrise.intake.words import HeaderWords, folded, header_key

_WORDY = re.compile(r"[^\W\d_]")


@dataclass(frozen=True, slots=True)
class TableRecords:
    """One table of a file. `headers` are its header records, above one another; none where it has no header."""

    preamble: tuple[Record, ...]
    headers: tuple[Record, ...]
    entries: tuple[Record, ...]


def is_entry(record: Record) -> bool:
    """A row with a day or a time in one cell and something in another; 'From, 2026-03-13' of a preamble is none."""
    filled = record.filled
    if len(filled) < 2 or not any(looks_timed(cell) for cell in filled):
        return False
    named = bool(_WORDY.match(filled[0].strip())) and not looks_timed(filled[0])
    return not (named and all(looks_timed(cell) for cell in filled[1:]))


def delimiter_of(lines: list[str], cut: Callable[[str], list[Record]]) -> tuple[str, int]:
    """The delimiter under which most lines are entries, and how many; ',' and 0 where none is."""
    best, most = ",", (0, 0.0, 0)
    for delimiter in DELIMITERS:
        if not any(delimiter in line for line in lines):
            continue
        rows = [record for record in cut(delimiter) if is_entry(record)]
        width = Counter(len(record.cells) for record in rows).most_common(1)
        cells = [cell for record in rows for cell in record.filled]
        plain = sum(map(_plain, cells)) / len(cells) if cells else 0.0
        if rows and (len(rows), plain, width[0][0]) > most:
            best, most = delimiter, (len(rows), plain, width[0][0])
    return best, most[0]


def _plain(cell: str) -> bool:
    """A cell that is one thing: a time, a number, or words without figures."""
    return looks_timed(cell) or looks_number(cell) or not any(mark.isdigit() for mark in cell)


def header_test(known: tuple[tuple[str, ...], ...], words: HeaderWords) -> Callable[[Record], bool]:
    """Whether a record is a header: all cells of a known layout's header, or words alone with one for a time."""
    wanted = [frozenset(header_key(cell) for cell in cells) for cells in known if cells]
    timely = {folded(word) for kind in ("when", "date", "time_of_day") for word in words.columns[kind]}

    def test(record: Record) -> bool:
        keys = {header_key(cell) for cell in record.cells if cell.strip()}
        if any(cells <= keys for cells in wanted):
            return True
        if len(keys) < 2 or any(looks_timed(cell) or looks_number(cell) for cell in record.filled):
            return False
        return any(word in timely for key in keys for word in key.split())

    return test


def split_tables(records: list[Record], test: Callable[[Record], bool]) -> list[TableRecords]:
    """The tables of a file, in order. A header found in the middle begins a new one, unless it repeats the last."""
    seen = _Seen(records, test)
    found: list[TableRecords] = []
    start = 0
    while start < len(records):
        begin = next((at for at in range(start, len(records)) if _begins(seen, at)), None)
        if begin is None:
            break
        first = seen.first_entry(begin)
        headers = _headers(records, start, first, test)
        end = _end(seen, first, headers)
        top = first - len(headers) if not headers else records.index(headers[0], start)
        preamble = tuple(record for record in records[start:top] if not record.blank)
        found.append(TableRecords(preamble, headers, tuple(records[first:end])))
        start = end
    return found


class _Seen:
    """What each record is, found out once, so that a file of nothing but headers takes no longer than another."""

    def __init__(self, records: list[Record], test: Callable[[Record], bool]) -> None:
        self.records = records
        self.header = [test(record) for record in records]
        self.filled = [not record.blank for record in records]
        self._plain_from = _next_of([
            filled and not header and not _units_row(record)
            for record, header, filled in zip(records, self.header, self.filled, strict=True)
        ])  # fmt: skip
        self._filled_from = _next_of(self.filled)

    def first_entry(self, begin: int) -> int:
        """The first record after any header from `begin` on."""
        if is_entry(self.records[begin]) and not self.header[begin]:
            return begin
        return self._plain_from[begin + 1]

    def below(self, at: int) -> Record | None:
        """The next record that holds anything."""
        below = self._filled_from[at + 1]
        return self.records[below] if below < len(self.records) else None


def _next_of(holds: list[bool]) -> list[int]:
    """For each place, and the one behind the last, the first from it on where it holds; else the length."""
    found = [len(holds)] * (len(holds) + 1)
    for at in reversed(range(len(holds))):
        found[at] = at if holds[at] else found[at + 1]
    return found


def _begins(seen: _Seen, at: int) -> bool:
    """An entry, or a header with a row of figures of about its width below it."""
    records = seen.records
    if is_entry(records[at]):
        return True
    if not seen.header[at]:
        return False
    first = seen.first_entry(at)
    if first >= len(records):
        return True
    figures = any(mark.isdigit() for cell in records[first].cells for mark in cell)
    return figures and abs(len(records[first].cells) - len(records[at].cells)) <= 1


def _units_row(record: Record) -> bool:
    """A second header row: no cell begins with a digit, short words only, and a unit among them."""
    cells = record.filled
    unitlike = any(
        "/" in cell or cell.strip(" ()[]").casefold() in {"g", "u", "ie", "iu", "kg", "lb"} for cell in cells
    )
    return bool(cells) and unitlike and not any(cell.strip()[:1].isdigit() for cell in cells)


def _headers(records: list[Record], start: int, first: int, is_header: Callable[[Record], bool]) -> tuple[Record, ...]:
    """Header records directly above the first entry: one; two where the lower holds units or the upper is a header."""
    above = [record for record in records[start:first] if not record.blank]
    wide = [
        record
        for record in above
        if any(_WORDY.search(cell) for cell in record.filled)
        and (len(record.filled) > 1 or (record is above[-1] and len(record.cells) > 1 and _units_row(record)))
    ]
    if not wide or above[-1] is not wide[-1]:
        return ()
    last = wide[-1]
    if any(looks_timed(cell) for cell in last.filled):
        return ()
    both = len(above) > 1 and above[-2].filled and len(wide) > 1 and above[-2] is wide[-2]
    if both and not is_header(last) and (_units_row(last) or is_header(above[-2])):
        return (above[-2], last)
    return (last,)


def _labels_what_follows(seen: _Seen, at: int) -> bool:
    """Whether a record has a word for each filled cell of the next one: a remark in the middle of a table has not."""
    below = seen.below(at)
    return below is not None and len(below.filled) <= len(seen.records[at].filled)


def _under_title(records: list[Record], at: int) -> bool:
    """Whether words alone stand above a repeated header: it may be another person's table."""
    above = next((record for record in reversed(records[:at]) if not record.blank), None)
    return (
        above is not None
        and len(above.filled) == 1
        and not any(mark.isdigit() for mark in above.filled[0])
        and bool(_WORDY.search(above.filled[0]))
    )


def _end(seen: _Seen, first: int, headers: tuple[Record, ...]) -> int:
    """Where the next table begins: a header unlike this one's, or a preamble set off by a blank line before one."""
    records = seen.records
    own = [tuple(folded(cell) for cell in record.cells) for record in headers]
    for at in range(first, len(records)):
        record = records[at]
        if record.blank or not seen.header[at] or is_entry(record) or not _labels_what_follows(seen, at):
            continue
        # With another unit, or under a title of its own, what follows is another table.
        if tuple(folded(cell) for cell in record.cells) in own and not _under_title(records, at):
            continue
        back = at
        while back > first and not records[back - 1].blank and not is_entry(records[back - 1]):
            back -= 1
        return back if back > first and records[back - 1].blank else at
    return len(records)
