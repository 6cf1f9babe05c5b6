"""Single rows whose time contradicts what stands beside it: the weekday, or am and pm in the rows around."""

import re
from collections.abc import Iterable
from datetime import date
from typing import Final

import polars as pl

from gramrise.connectors.layout import Clock, Layout
from gramrise.intake.cells import DateStyle, read_day, time_text
from gramrise.intake.context import ReadContext
from gramrise.intake.files import ROW, TextTable
from gramrise.intake.words import HeaderWords, folded

_ORDERS: Final = ("iso", "ymd", "dmy", "mdy")
_ENOUGH: Final = 2000  # rows of a block looked at for words beside its times
_MOST_WORDS: Final = 40  # different texts of a column of weekdays; our choice
_MOST_LETTERS: Final = 60  # of a cell that are looked at; our choice: a day and its weekday stand at its beginning
_CLOCK: Final = r"[T ,]*\d{1,2}[:h]\d{2}.*$|\s*T\d.*$"
_HOUR: Final = r"(?:^|[ ,])(\d{1,2})(?:[:h]\d{2})"
_LEADING: Final = re.compile(r"([a-z]{2,12})\.?,? {0,3}(?=\d|[a-z]{3,10}\.? \d)")
_BEHIND: Final = re.compile(r"\d{4},? {0,3}\(?([a-z]{2,12})\b")


def contradicted_rows(table: TextTable, layout: Layout, context: ReadContext) -> list[tuple[int, str, str]]:
    """(row, code, what stands there) of rows whose weekday or half of the day contradicts what is written beside it.

    layout  resolved. Where a day is carried down, the rows that carry such a day are told with it.
    """
    clock = layout.clock
    assert clock is not None  # a layout of tables has one
    if not table.cells.height:
        return []
    found = _weekday_rows(table, clock, context)
    halves = _half_day_rows(table, clock, context.words)
    return sorted({row: (row, code, text) for row, code, text in (*halves, *found)}.values())


def without_rows(table: TextTable, bad: Iterable[tuple[int, str, str]]) -> TextTable:
    """The table without the rows that are told."""
    rows = [row for row, _, _ in bad]
    return table.with_cells(table.cells.filter(~pl.col(ROW).is_in(rows))) if rows else table


def _weekday_rows(table: TextTable, clock: Clock, context: ReadContext) -> list[tuple[int, str, str]]:
    order = next((form for form in clock.formats if form in _ORDERS), None)
    if order is None or clock.zone != "person" or clock.offset_column:
        return []
    texts = time_text(table, clock)
    columns = _weekday_columns(table, clock, context.words)
    if not columns and not texts.head(_ENOUGH).str.contains(r"\p{L}{2}").any():
        return []
    days = texts.str.replace(_CLOCK, "").str.strip_chars()
    different = days.unique().to_list()
    style = DateStyle("ymd" if order == "iso" else order, context.settings.latest_two_digit_year)
    read = {text: _day_of(text, style, context.words) for text in different if text}
    found = []
    for row, text, *cells in zip(
        table.cells[ROW].to_list(), days.to_list(), *(table.cells[at].to_list() for at in columns), strict=True
    ):
        day = read.get(text or "")
        said = [(cell or "").strip() for cell in cells] + _weekdays_in(text or "", context.words)
        odd = next((word for word in said if day is not None and _contradicts(word, day, context.words)), "")
        if odd:
            found.append((row, "weekday_contradicts", f"{odd} {text}"))
    return _with_carried(found, table, clock)


def _weekday_columns(table: TextTable, clock: Clock, words: HeaderWords) -> list[str]:
    """The columns whose cells are nothing but weekdays."""
    timed = {table.column(name) for name in clock.columns}
    found = []
    for at in range(table.width):
        cells = table.cells[str(at)]
        first = [text for cell in cells.head(_MOST_WORDS).drop_nulls() if (text := cell.strip())]
        if str(at) in timed or not all(_weekdays(text, words) for text in first):
            continue  # seen without looking at each cell of a large block
        texts = [text for cell in cells.drop_nulls().unique().to_list() if (text := cell.strip())]
        if 0 < len(texts) <= _MOST_WORDS and all(_weekdays(text, words) for text in texts):
            found.append(str(at))
    return found


def _day_of(text: str, style: DateStyle, words: HeaderWords) -> date | None:
    plain = " ".join(text[:_MOST_LETTERS].replace("(", " ").replace(")", " ").split())
    found = read_day(folded(plain), style, words)
    return found[0] if found is not None else None


def _weekdays(word: str, words: HeaderWords) -> frozenset[int]:
    """The weekdays that a word may mean, Monday is 0; none of a longer text."""
    if len(word) > _MOST_LETTERS:
        return frozenset()
    return words.weekdays.get(folded(word).strip(" .,()"), frozenset())


def _weekdays_in(text: str, words: HeaderWords) -> list[str]:
    """Words for a weekday before a date or behind its year; the short name of a month is none."""
    plain = folded(text[:_MOST_LETTERS])
    said = [found[1] for found in (_LEADING.match(plain), _BEHIND.search(plain)) if found is not None]
    return [word for word in said if word not in words.months and _weekdays(word, words)]


def _contradicts(word: str, day: date, words: HeaderWords) -> bool:
    meant = _weekdays(word, words)
    return bool(meant) and day.weekday() not in meant


def _with_carried(found: list[tuple[int, str, str]], table: TextTable, clock: Clock) -> list[tuple[int, str, str]]:
    """Where an empty day means the day above, the rows below a doubtful day are as doubtful."""
    first = table.column(clock.columns[0])
    if not found or not clock.day_carried or first is None:
        return found
    bad = {row: (row, code, text) for row, code, text in found}
    last: tuple[int, str, str] | None = None
    for row, day in zip(table.cells[ROW].to_list(), table.cells[first].to_list(), strict=True):
        if (day or "").strip():
            last = bad.get(row)
        elif last is not None and row not in bad:
            bad[row] = (row, last[1], last[2])
    return list(bad.values())


def _half_day_rows(table: TextTable, clock: Clock, words: HeaderWords) -> list[tuple[int, str, str]]:
    """Rows with an hour from 1 to 12 and neither am nor pm, where other rows have one and no row shows 24 hours."""
    texts = time_text(table, clock)
    halves = sorted((folded(word) for half in ("am", "pm") for word in words.clock[half]), key=len, reverse=True)
    half = "(?:" + "|".join(re.escape(one) for one in halves) + ")"
    marks = rf"(?i)[:.h]\d{{2}} ?{half}(?:\W|$)|\d ?{half}\W*$"
    if not texts.head(_ENOUGH).str.contains(marks).any():
        return []
    marked = texts.str.contains(marks).fill_null(value=False)
    if marked.all():
        return []
    hours = pl.select(pl.when(~marked).then(texts.str.extract(_HOUR).cast(pl.Int32, strict=False))).to_series()
    if ((hours > 12) | (hours == 0)).any():
        return []
    open_rows = hours.is_not_null().fill_null(value=False)
    rows = table.cells.filter(open_rows)[ROW].to_list()
    found = [(row, "half_day_missing", text) for row, text in zip(rows, texts.filter(open_rows).to_list(), strict=True)]
    return _with_carried(found, table, clock)
