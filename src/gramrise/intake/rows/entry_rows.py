"""Which rows of a table are entries: blank rows, totals and repeated headers are not."""

import math
import re
from dataclasses import dataclass
from typing import Final

import polars as pl

from gramrise.intake.files import LINES_ABOVE, ROW, BlockText, LineText, TextTable, looks_timed
from gramrise.intake.rows.quarantine import bad_rows
from gramrise.intake.words import HeaderWords, folded

# Below so many lines nothing is usual, of units below so few. Our choice. A hundred lines above the last are looked at:
# of a hundred numbers that a program trims of zeros some are trimmed, so that a short one at the end is no news.
_LEAST_LINES: Final = 4
_FEWEST_LINES: Final = 3
_DECIMALS: Final = re.compile(r"\d{1,9}[.,](\d{1,9})")
_AMOUNT: Final = re.compile(r"(\d{1,9}(?:[.,]\d{1,9})?)[\s\xa0]{0,9}([^\W\d_]{0,30})")
_BEGUN: Final = re.compile(r"\d{1,9}(?:[.,](\d{0,9}))?")


@dataclass(frozen=True, slots=True)
class EntryRows:
    """`cells` of the entries; rows offered (blank ones are none), rows passed over, rows that are bad as a whole."""

    cells: pl.DataFrame
    offered: int
    passed_over: int
    bad: pl.DataFrame  # row, code, found: wider than the header, or cut off


def entry_rows_of(table: TextTable, total_words: tuple[str, ...], words: HeaderWords) -> EntryRows:
    """The entries of a table. `total_words` are the layout's own beside those of header_words.toml."""
    none = bad_rows([])
    columns = [str(at) for at in range(table.width)]
    if not columns or table.cells.height == 0:
        return EntryRows(table.cells, 0, 0, none)
    cells = table.cells
    if cells[columns[0]].null_count() or (cells[columns[0]] == "").any():
        cells = cells.filter(pl.any_horizontal((pl.col(column).fill_null("") != "") for column in columns))
    offered = cells.height
    passed = _passed_over(table, cells, columns, total_words, words)
    if passed:
        cells = cells.filter(~pl.col(ROW).is_in(passed))
    cut = _cut_off(table, cells)
    if cut.height:
        cells = cells.head(cells.height - 1)
    beyond = [column for column in columns[len(table.header) :] if table.header]
    if not beyond:
        return EntryRows(cells, offered, len(passed), cut)
    wide = pl.any_horizontal((pl.col(column).fill_null("").str.strip_chars() != "") for column in beyond)
    too_wide = cells.filter(wide).select(
        ROW, code=pl.lit("too_many_cells"), found=pl.concat_str(beyond, ignore_nulls=True)
    )
    bad = pl.concat([too_wide.with_columns(pl.col(ROW).cast(pl.Int64)), cut])
    return EntryRows(cells.filter(~wide) if too_wide.height else cells, offered, len(passed), bad)


def _cut_off(table: TextTable, cells: pl.DataFrame) -> pl.DataFrame:
    """The last row, where its line ends sooner than the lines above: what stands in it may be half of what was written.

    Sooner: with fewer cells than each of them, or with a last number of fewer decimals than theirs all have; without an
    end of line, also with less of a unit than each has, or with a number that one more figure brings near to theirs.
    A cell of a workbook is whole.
    """
    rows = cells[ROW].tail(LINES_ABOVE + 1).to_list()
    if table.typed or not table.delimiter or table.goes_on or not rows or len(table.above) + len(rows) < _FEWEST_LINES:
        return bad_rows([])
    *above, last = [*table.above, *(table.text_of(row) for row in rows)][-LINES_ABOVE - 1 :]
    if not last or any('"' in line for line in (*above, last)):  # a quoted cell may hold the delimiter
        return bad_rows([])
    usual = len(above) + 1 >= _LEAST_LINES
    sooner = last.count(table.delimiter) < min(line.count(table.delimiter) for line in above)
    ends = [line.rsplit(table.delimiter, 1)[-1].strip() for line in (*above, last)]
    decimals = {len(number[1]) if (number := _DECIMALS.fullmatch(end)) else 0 for end in ends[:-1]}
    own = _BEGUN.fullmatch(ends[-1])
    shorter = own is not None and len(own[1] or "") < min(decimals)
    ends_open = isinstance(table.text_of, LineText | BlockText) and table.text_of.ends_open(rows[-1])
    cut = (usual and (sooner or shorter)) or (ends_open and _begun_alone(ends))
    return bad_rows([(rows[-1], "cut_off", last[-80:])] if cut else [])


def _begun_alone(ends: list[str]) -> bool:
    """Whether the last of some amounts looks begun and not ended: '12 m' under '16 mL', '26' under '264'.

    '1 piece' under '3 pieces' is whole; so is '99' under '112', as a further figure would lead far from it. '1' where
    at least half of those above have a unit may lack its own.
    """
    read = [_AMOUNT.fullmatch(end) for end in ends]
    *above, last = ((found[1], found[2]) if found else ("", end) for found, end in zip(read, ends, strict=True))
    units, (figures, unit) = {each[1].casefold() for each in above}, (last[0], last[1].casefold())
    if read[-1] is not None and all(read) and not unit and 2 * sum(bool(each[1]) for each in above) >= len(above):
        return True
    if read[-1] is None or not all(read):
        return False
    if unit not in units:
        singular = figures == "1" and f"{unit}s" in units
        return not singular and any(each.startswith(unit) for each in units)
    if len(figures) >= len(above[-1][0]) or _value(figures) == 0:
        return False
    near, own = _value(above[-1][0]), _value(figures)
    return abs(math.log(10 * own / near)) < abs(math.log(own / near)) if near > 0 else False


def _value(figures: str) -> float:
    return float(figures.replace(",", "."))


def _passed_over(
    table: TextTable, cells: pl.DataFrame, columns: list[str], total_words: tuple[str, ...], words: HeaderWords
) -> list[int]:
    """Line numbers of totals (no time in them) and of repeated headers."""
    first = pl.coalesce(pl.when(pl.col(column) != "").then(pl.col(column)) for column in columns)
    begins_with_digit = pl.col(columns[0]).is_between(pl.lit("0"), pl.lit(":"), closed="left")
    if cells.select(begins_with_digit.all(ignore_nulls=False)).item():
        return []
    firsts = cells.select(first.str.strip_chars().alias("f"))["f"]
    totals = tuple(folded(word) for word in (*words.rows["total"], *total_words))
    header = tuple(cell for cell in map(folded, table.header) if cell)
    begins = [
        text
        for text in firsts.filter(firsts.str.contains(r"^\p{L}")).unique().to_list()
        if _is_total(text, totals) or (header and folded(text) == header[0])
    ]
    if not begins:
        return []
    passed = []
    for row, *texts in cells.filter(firsts.is_in(begins)).iter_rows():
        filled = [text for text in texts if text and text.strip()]
        again = tuple(map(folded, filled)) == header
        if again or (_is_total(filled[0], totals) and not any(looks_timed(text) for text in filled)):
            passed.append(row)
    return passed


def _is_total(text: str, totals: tuple[str, ...]) -> bool:
    word = folded(text).rstrip(":. ")
    return any(word == total or word.startswith(total + " ") for total in totals)
