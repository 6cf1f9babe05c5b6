"""A text note, one line an entry: '02:10 3 pieces'. A date stands on a line of its own, or before the time.

An entry without a date is the last such time before the note was saved, if the note is read within a night of that
(setting note_hours): that is what such a line means. Later it waits for a date line.
"""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.person import Person
from gramrise.intake.cells import LEFT_OVER, DateStyle, dated_zones, place, read_day
from gramrise.intake.context import ReadContext
from gramrise.intake.labels import zone_of_text
from gramrise.intake.problems import FileRefused, FileWaits
from gramrise.intake.rows.dose_entries import DoseEntry
from gramrise.intake.rows.note_clocks import note_clock, says_later_half
from gramrise.intake.rows.note_headings import Headings, with_line_beneath
from gramrise.intake.rows.other_persons import is_persons_heading, leading_name, speaks_of_another
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import OTHER_DAY_WORD, TIME_WORDS, HeaderWords, folded, shipped_words

_ENTRY = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?::\d{2})?(?!\d|\.|[,/-]\d)\s{0,9}(?:(uhr|h)(?![^\W\d_]))?\s{0,9}(?:(?:(?<!\s)[-–—−]|[-–—−](?!\d))|[:;|]|,(?!\d))?\s{0,9}(.*)",
    re.IGNORECASE,
)  # a dash behind a blank and before a figure is its sign: '18:50 -3 tablets'
_BARE_CLOCK = re.compile(r"\d{1,2}[:.h]\d{2}(?::\d{2})?", re.IGNORECASE)
# '3 pieces at 03:10' behind another time: which of the two it was, nobody can tell.
_GIVEN_AT = re.compile(
    rf"\s{{0,3}}\d[\d.,/]{{0,5}}(?:\s[^\W\d_]{{1,20}}){{1,3}}\s(?:{TIME_WORDS})\s(\d{{1,2}})[:.](\d{{2}})(?:\suhr)?\W{{0,3}}",
    re.IGNORECASE,
)
_CLOCK_IN_LINE = re.compile(r"(?<![\d.:])\d{1,2}[:h]\d{2}")
_DAY_WORDS = re.compile(
    r"\b(?:(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?|mo|di|mi|do|fr|sa|so"
    r"|(?:mon|diens|donners|frei|sams|sonn)tag|mittwoch|sonnabend"
    r"|lun(?:di|es)?|mar(?:di|tes)?|mer(?:credi)?|mie(?:rcoles)?|jeu(?:di)?|jue(?:ves)?|ven(?:dredi)?|vie(?:rnes)?"
    r"|sam(?:edi)?|sab(?:ado)?|dim(?:anche)?|dom(?:ingo)?"
    r"|yesterday|today|tomorrow|gestern|heute|morgen|hier|aujourd|demain|ayer|hoy|manana)\b",
)
# Behind a clock time it says that the amount was of no day that the lines around it are of.
_ANOTHER_DAY = re.compile(rf"{OTHER_DAY_WORD}|\b(?:yesterday|gestern|ayer)\b", re.IGNORECASE)
_LONGEST_DAY, _ANY_YEAR = 20, (" 2024", "/2024")  # 'Wednesday, 26 Nov' is no longer; a leap year has every day
_AT = re.compile(r"\A(?:um|at|à|a las)\s{1,3}(?=\d)", re.IGNORECASE)
MOST_LINES_LOOKED_AT = 2000  # lines that tell a note from a table; our choice: years of nights
# A day without its year, alone or before a clock time: '26.11. 01:15', '26 Nov 1:15'. 11.10 alone may be a time.
_NO_YEAR = re.compile(
    r"[-*•\s]{0,9}(?:[^\W\d_]{2,10}\.?,?\s)?"
    r"(?:\d{1,2}\s?[./-]\s?\d{1,2}\.?|\d{1,2}\.?\s[^\W\d_]{3,10}\.?)"
    r"(?:,?\s{1,9}(?:um |at )?\d{1,2}[:.h]\d{2}(?!\d)|(?<=\d\.)\s{0,9}$)",
    re.IGNORECASE,
)
_CELLS = re.compile(
    r"[;|\t]|[:h]\d{2}(?::\d{2})?(?:\s{0,9}[ap]\.?\s?m\.?)?\s{0,9},", re.IGNORECASE
)  # parted as the cells of a table are
_DAY_IN_NAME = re.compile(r"(?<![\d.-])(\d{1,2})[-._](\d{1,2})(?![\d-]|[._]\d)")
_TWO_FIGURES = re.compile(r"(?:[^\W\d_]{1,20},? )?(\d{2}([-/])\d{1,2}\2\d{2})(?!\d)")
_SLASHED = re.compile(r"(?:[^\W\d_]{1,20},? )?(\d{1,2})[/-](\d{1,2})[/-](\d{2,4})\b")


_NAME_HEADING = re.compile(r"[^\W\d_]{2,30} ?:")  # 'Tom:' above the first entry


@dataclass(frozen=True, slots=True)
class NoteLines:
    """A note's entries, and its bad lines as (row, code, found). `dated` is False where a day came from saving time."""

    entries: list[DoseEntry]
    bad: list[tuple[int, str, str]]
    lines: int
    dated: bool
    earlier: tuple[DoseEntry, ...] = ()  # undated ones, taken as of the day before the note was saved


@dataclass(slots=True)
class _Line:
    row: int
    day: date | None
    at: time
    text: str
    offset_minutes: int | None = None  # east of UTC, where a zone stands behind the time


class _Split(NamedTuple):
    """A line's day, time and words, each where it has one; `trouble` is why it must be set aside although timed."""

    day: date | None
    at: time | None
    said: str
    offset_minutes: int | None = None
    trouble: str = ""


def is_note(text: str) -> bool:
    """Whether a text is a note by its form: an entry line, and most lines with a digit are entries or dates."""
    lines = [line.strip() for line in text.split("\n", MOST_LINES_LOOKED_AT)[:MOST_LINES_LOOKED_AT] if line.strip()]
    entries = [line for line in lines if _is_entry(line)]
    with_digit = [line for line in lines if _digit(line)]
    days = (line for line in with_digit if entries and not _is_entry(line))
    dated = sum(1 for line in days if _starts_with_day(line) or _is_day_alone(line))
    return bool(entries) and 2 * (len(entries) + dated) > len(with_digit)


def _is_entry(line: str) -> bool:
    """A time and something; or a day, a time and words: day, time and a number alone may be a row of any table."""
    if _split(line).at is not None:
        return True
    if _CELLS.search(line):
        return False
    readings = (_split(line, DateStyle(order, 68), shipped_words()) for order in ("dmy", "mdy"))
    return any(read.day is not None and read.at is not None and any(map(str.isalpha, read.said)) for read in readings)


def note_lines(text: str, context: ReadContext, file: str, named_day: date | None, saved_at_utc: datetime) -> NoteLines:
    """The entries of a note. Raises FileWaits where its days stay open, FileRefused for too many lines.

    named_day     the date in the file's name, if there is one
    saved_at_utc  when the note was last saved
    """
    person, settings, now_utc = context.person, context.settings, context.now_utc
    if sum(1 for line in text.split("\n") if line.strip()) > settings.most_note_lines:
        raise FileRefused(
            "too_many_lines", file, f"a note of more than {settings.most_note_lines} lines", "cut it into smaller notes"
        )
    saved_on = saved_at_utc.astimezone(person.zone_now()).date()
    _check_year_last(text, file, saved_on)
    style = DateStyle(_order(text, file), settings.latest_two_digit_year)
    lines, bad = _lines(text, style, context, named_day, file)
    lines = _of_one_person(lines, bad, context)
    undated = [line for line in lines if line.day is None]
    if undated:
        _check_day_in_name(file, saved_on)
        _date_by_saving(undated, person.zone_now(), settings, file, saved_at_utc, now_utc)
    walls = [datetime.combine(line.day, line.at) for line in lines if line.day]
    offered = len(lines) + len(bad)
    entries = []
    for line, placed in zip(lines, _placed(walls, person, settings), strict=True):
        assert line.day is not None  # each has one by now
        offset = line.offset_minutes
        at_utc, sure = placed if offset is None else (_by_offset(line.day, line.at, offset), True)
        if at_utc is None:
            bad.append((line.row, "no_such_local_time", f"{line.at:%H:%M}"))
        elif not sure:
            bad.append((line.row, "time_ambiguous", f"{line.at:%H:%M}"))
        elif not context.earliest_utc <= at_utc <= context.latest_utc:
            bad.append((line.row, "time_out_of_range", f"{line.day} {line.at:%H:%M}"))
        else:
            entries.append(DoseEntry(line.row, at_utc, line.day, line.text))
    earlier = tuple(entry for entry in entries if undated and entry.day < saved_on)
    return NoteLines(entries, bad, offered, not undated, earlier)


def _by_offset(day: date, at: time, offset_minutes: int) -> datetime:
    return datetime.combine(day, at, UTC) - timedelta(minutes=offset_minutes)


def _placed(walls: list[datetime], person: Person, settings: IntakeSettings) -> list[tuple[datetime | None, bool]]:
    """(instant, certain) of each wall time, in the zone that held on its day; no instant where the clock skipped it."""
    found: list[tuple[datetime | None, bool]] = [(None, True)] * len(walls)
    for zone, from_day, to_day in dated_zones(person):
        held = [
            (from_day is None or wall.date() >= from_day) and (to_day is None or wall.date() < to_day) for wall in walls
        ]
        here = [wall if mine else None for wall, mine in zip(walls, held, strict=True)]
        placed = place(pl.Series(here, dtype=pl.Datetime("us")), zone, settings)
        here_placed = zip(placed.at_utc.to_list(), placed.certain.to_list(), strict=True)
        found = [new if mine else old for new, old, mine in zip(here_placed, found, held, strict=True)]
    return found


def _digit(line: str) -> bool:
    return any("0" <= mark <= "9" for mark in line)


def _starts_with_day(line: str) -> bool:
    return read_day(folded(line), DateStyle("dmy", 68), shipped_words()) is not None or (
        read_day(folded(line), DateStyle("mdy", 68), shipped_words()) is not None
    )


def _is_day_alone(line: str) -> bool:
    """Whether a line is a day without its year and nothing else: 'Nov 26', '11/25'."""
    text = line.strip()
    if len(text) > _LONGEST_DAY or not _digit(text):
        return False
    whole = (read_day(folded(text + year), DateStyle(order, 68), shipped_words())
             for order in ("dmy", "mdy") for year in _ANY_YEAR)  # fmt: skip
    return not _starts_with_day(text) and any(found is not None and not found[1] for found in whole)


def _split(
    line: str, style: DateStyle | None = None, words: HeaderWords | None = None, names: tuple[str, ...] = ()
) -> _Split:
    """An entry line's day (if it begins with one), time and text; no time where it is no entry.

    names  of the person's sources
    """
    day, rest, before = None, _AT.sub("", line.strip().lstrip("-*• ").strip(), count=1), ""
    if style is not None and words is not None and not _ENTRY.match(rest):
        found = read_day(folded(rest), style, words)
        if found is not None:
            day = found[0]
            clock = _CLOCK_IN_LINE.search(rest) if found[1].strip() else None
            behind = found[1].strip(" ,:")
            if clock is None and _ENTRY.match(behind):
                return _Split(day, None, rest)  # '1:1½' is a time only once its fraction is written out
            before = rest[: clock.start()] if clock is not None else ""
            rest = rest[clock.start() :] if clock is not None else behind
    return _timed(day, rest, before, words or shipped_words(), names)


def _timed(day: date | None, rest: str, before: str, words: HeaderWords, names: tuple[str, ...]) -> _Split:
    """The time that a text begins with, and its words. `before`: what stands between the day and the time."""
    match = _ENTRY.match(rest)
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        return _Split(day, None, rest)
    marked = match.end(3) if match[3] else _BARE_CLOCK.match(rest).end()  # type: ignore[union-attr]  # it matched above
    clock = note_clock(int(match[1]), rest[marked:], match[4].strip(), words, names)
    trouble = clock.trouble or ("part_of_day" if clock.hour < 12 and says_later_half(before, words) else "")
    at = time(clock.hour, int(match[2]))
    trouble = trouble or ("other_day" if _ANOTHER_DAY.search(clock.said) else "")
    trouble = trouble or ("two_times" if _is_of_another_time(clock.said, at) else "")
    return _Split(day, at, clock.said, clock.offset_minutes, trouble)


def _lines(
    text: str, style: DateStyle, context: ReadContext, named_day: date | None, file: str
) -> tuple[list[_Line], list[tuple[int, str, str]]]:
    words = context.words
    lines: list[_Line] = []
    bad: list[tuple[int, str, str]] = []
    day, lost, before, another = named_day, False, None, False
    headings, above = Headings(context), None
    names = tuple(name for one in context.person.sources_now() for name in one.names)
    for row, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            headings.blank()
            above = None
            continue
        own_day, at, said, offset_minutes, trouble = _split(line, style, words, names)
        if own_day is None and (_NO_YEAR.match(line) or _is_day_alone(line)):
            bad.append((row, "no_year", line.strip()))
            lost = True
            continue
        if own_day is not None:
            day, lost, before, above = own_day, False, None, None
        if at is None and own_day is not None and not said:
            headings.day()
            continue
        if at is None and zone_of_text(line) is not None:
            raise _zone_open(line, file)
        if at is None:
            bad.append((row, "count_not_given" if _says_left(line, words) else "no_entry", line.strip()))
            of_a_day = _digit(line) or bool(_DAY_WORDS.search(folded(line)))
            lost = lost or of_a_day
            begins = bool(lines) or bool(_NAME_HEADING.fullmatch(line.strip()))  # else a title
            heading = begins and not of_a_day and is_persons_heading(line, context)
            another = another or heading or speaks_of_another(line, context)
            headings.untimed(line, beneath_an_amount=above is not None)
            _heed_beneath(above, line, context)
            continue
        headings.timed()
        above = None
        if another or headings.denies:
            bad.append((row, "another_person" if another else "under_heading", line.strip()))
        elif lost:
            bad.append((row, "no_date" if day is None else "after_unread", line.strip()))
        elif day is not None and before is not None and at < before:
            bad.append((row, "note_order", line.strip()))
            lost = True
        elif trouble or (offset_minutes is not None and day is None):
            bad.append((row, trouble or "zone_open", line.strip()))
            lost = trouble not in {"other_day", "two_times"}  # else it may have been the evening before the line below
        else:
            above = _Line(row, day, at, said, offset_minutes)
            lines.append(above)
            before = at
    return lines, bad


def _is_of_another_time(said: str, at: time) -> bool:
    """Whether an amount of a line is followed by another time than the line begins with."""
    found = _GIVEN_AT.fullmatch(said)
    return found is not None and (int(found[1]), int(found[2])) != (at.hour, at.minute)


def _heed_beneath(above: _Line | None, line: str, context: ReadContext) -> None:
    """Makes the amount right above a line without a time doubtful where its words do: 'of which 2 eaten'.

    A name alone is a heading, and a line that holds a time is of its own.
    """
    if above is None or _says_left(line, context.words) or _CLOCK_IN_LINE.search(line):
        return
    if len(line.split()) > 1 or not is_persons_heading(line, context):
        above.text = with_line_beneath(above.text, line, context)


def _zone_open(line: str, file: str) -> FileWaits:
    return FileWaits(
        "zone_open", file, f"its line '{line.strip()[:60]}' speaks of a zone, and its times carry no offset",
        "write the offset from UTC behind each time, as 18:30+01:00, and take the line out",
        readings=("the times are the person's own", "they are of the zone named"),
        lines=("take the line out", "02:10+01:00 3 pieces"),
    )  # fmt: skip


def _says_left(line: str, words: HeaderWords) -> bool:
    """Whether a line without a time says what is left, full or bought."""
    padded = f" {re.sub(r'[^a-z0-9]+', ' ', folded(line))} "
    return any(f" {folded(phrase)} " in padded for phrase in words.amounts[LEFT_OVER[0]])


def _of_one_person(lines: list[_Line], bad: list[tuple[int, str, str]], context: ReadContext) -> list[_Line]:
    """The lines; where some begin with a name and others do not, or with another, those with a name are set aside."""
    tins = tuple(folded(name) for name in context.containers)
    named = ["" if folded(line.text).startswith(tins) else leading_name(line.text, context) for line in lines]
    if len(set(named)) < 2:
        return lines
    bad += [(line.row, "another_person", line.text) for line, name in zip(lines, named, strict=True) if name]
    return [line for line, name in zip(lines, named, strict=True) if not name]


def _order(text: str, file: str) -> str:
    """Day or month first, where dates are written with slashes: proved by a part over 12."""
    found = [_SLASHED.match(line.strip()) for line in text.split("\n")]
    dates = [(int(match[1]), int(match[2])) for match in found if match]
    day_first = any(first > 12 for first, _ in dates)
    month_first = any(second > 12 for _, second in dates)
    if not dates or day_first != month_first:
        return "mdy" if month_first else "dmy"
    raise FileWaits(
        "day_month_open",
        file,
        "its dates can be read day first or month first",
        "write them as 2026-03-14",
        readings=("day first", "month first"),
        lines=("write 2026-03-14", "write 2026-03-14"),
    )


def _check_year_last(text: str, file: str, saved_on: date) -> None:
    """Raises FileWaits for days such as 26-11-20 that are nearer to the saving when they are read year first.

    Parted by full stops a day is day first in every language.
    """
    for line in text.split("\n"):
        found = _TWO_FIGURES.match(line.strip())
        if found is None:
            continue
        read = (read_day(folded(found[1]), DateStyle(order, 99), shipped_words()) for order in ("ymd", "dmy"))
        first, last = (abs(one[0] - saved_on) if one is not None else timedelta.max for one in read)
        if first < last:
            raise FileWaits(
                "day_month_open",
                file,
                "its dates can be read year first or day first",
                "write them as 2026-03-14",
                readings=("year first", "day first"),
                lines=("write 2026-03-14", "write 2026-03-14"),
            )


def _check_day_in_name(file: str, saved_on: date) -> None:
    """Raises FileWaits where a file's name may hold a day without its year, 'night 20-11', other than the saving's."""
    for found in _DAY_IN_NAME.finditer(file.rpartition(".")[0] or file):
        first, second = int(found[1]), int(found[2])
        near = {(day.day, day.month) for day in (saved_on, saved_on - timedelta(days=1))}
        may_be = {(day, month) for day, month in ((first, second), (second, first)) if day <= 31 and 1 <= month <= 12}
        if may_be and not may_be & near:
            raise FileWaits(
                "note_date_open",
                file,
                f"its entries have no date, and its name holds '{found[0]}', which may be another day than that of the "
                "saving",
                "write the date on a line above the entries, as 2026-03-14",
                readings=("any day",),
                lines=("2026-03-14",),
            )


def _date_by_saving(
    lines: list[_Line], zone: ZoneInfo, settings: IntakeSettings, file: str, saved_at_utc: datetime, now_utc: datetime
) -> None:
    """The last entry is the last such time before the saving; each one before it the last such time before the next."""
    if now_utc - saved_at_utc > timedelta(hours=settings.note_hours) or saved_at_utc > now_utc + timedelta(minutes=5):
        raise FileWaits(
            "note_date_open",
            file,
            "its entries have no date, and it was not saved just now",
            "write the date on a line above the entries, as 2026-03-14",
            readings=("any day",),
            lines=("2026-03-14",),
        )
    bound = saved_at_utc.astimezone(zone).replace(tzinfo=None)
    for line in reversed(lines):
        day = bound.date() if line.at <= bound.time() else bound.date() - timedelta(days=1)
        line.day = day
        bound = datetime.combine(day, line.at)
