"""Whether a table writes day, month or year first: proved by a part over 12, by order and spacing, or left open."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import polars as pl

from gramrise.intake.cells import DateStyle, read_written_time
from gramrise.intake.evidence import OpenPoint
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import HeaderWords, folded

NAMES = {"ymd": "year, month, day", "dmy": "day, month, year", "mdy": "month, day, year"}
_DOTTED = r"^\d{1,2}\. ?\d{1,2}\. ?\d{4}(?:\D|$)"
_FIGURED = r"^((?:\pL+\.?,? +)?\d{1,2}[-/. ]\d{1,2}[-/. ](?:\d{4}|\d{2}))(?:\D|$)"  # a day in figures, year not first
_ALL_FIGURES = re.compile(r"(?:[^\W\d_]{1,20}\.?,? {1,9})?\d{1,2}([-/. ])\d{1,2}\1(\d{4}|\d{2})(?!\d)")
# From 12:59 to 1:00 a clock of twelve hours goes back by nearly twelve hours; gaps in a log make it less. Our choice.
LEAST_STEP_BACK_MINUTES = 9 * 60
SUNDAY = 7
CLOCKS_CHANGE_UNTIL_HOUR = 3
_ENOUGH_ROWS, _MOST_HOURS = 40, 10  # our choice: rows and different hours that leave no doubt of a 12-hour clock
_YEAR_FIRST = r"^\d{4}[-/.]\d"
# One row in so many may be written otherwise than the rest. Our choice: a slip, not a second way of writing.
_FEW = 20
_EPOCH = {10: "epoch s", 13: "epoch ms"}


@dataclass(frozen=True, slots=True)
class Order:
    """The format that stands in `Clock.formats` from now on, and the proof in words."""

    form: str
    why: str


def prove_order(texts: pl.Series, settings: IntakeSettings, words: HeaderWords, now_utc: datetime) -> Order | OpenPoint:
    """How a table's times are written. `texts` are its date-times (date and time of day joined), in file order."""
    known = texts.filter(texts != "")
    if known.is_empty():
        return OpenPoint("no_times", "no row has a time", "look at the table")
    at_once = _at_once(known, settings, now_utc)
    return at_once if at_once is not None else _by_days(known, texts, settings, words, now_utc)


def _at_once(known: pl.Series, settings: IntakeSettings, now_utc: datetime) -> Order | OpenPoint | None:
    """The form where no order is open: years stand first, or times are counts."""
    if known.str.contains(_YEAR_FIRST).all():
        return _year_first(known)
    counts = _mostly(known, r"^\d+([.,]\d+)?$")
    return None if counts is None else _epoch(counts, settings, now_utc)


def _year_first(known: pl.Series) -> Order | OpenPoint:
    """Year, month, day; unless a part over 12 stands where the month should."""
    parts = known.str.extract_groups(r"^\d{4}[-/.](\d{1,2})[-/.](\d{1,2})").struct
    second, third = (parts.field(key).cast(pl.Int32, strict=False) for key in ("1", "2"))
    turned = known.filter((second > 12) & (third <= 12))
    if turned.len() and turned.len() * _FEW > known.len():
        return OpenPoint(
            "year_day_month", f"dates such as '{turned[0]}' have the day in the place of the month",
            "export the table with dates as year-month-day, or give the pattern under [clock] in a layout",
            ("the day stands second",), ('formats = ["%Y-%d-%m %H:%M"]',),
        )  # fmt: skip
    return Order("ymd", "the year stands first")


def _mostly(known: pl.Series, pattern: str) -> pl.Series | None:
    """The texts of a pattern where all but a few are: a slip in one row must not hide how the others are written."""
    mine = known.filter(known.str.contains(pattern))
    return mine if mine.len() and (known.len() - mine.len()) * _FEW <= mine.len() else None


def _by_days(
    known: pl.Series, texts: pl.Series, settings: IntakeSettings, words: HeaderWords, now_utc: datetime
) -> Order | OpenPoint:
    """The order of days that are written in figures and do not begin with the year."""
    days = known.str.extract(_FIGURED).value_counts(sort=True, name="rows").drop_nulls()
    figures = dict(days.iter_rows())
    if not figures:
        return Order("ymd", "the year stands first, or the month is named")
    if _mostly(known, _YEAR_FIRST + r"\d[-/.]\d\d") is not None:  # what stands otherwise is a slip: read in no order
        return Order("iso", f"the year stands first, but not in rows such as '{next(iter(figures))}'")
    counts = {order: _fitting(figures, order, settings, words) for order in _orders(list(figures))}
    most = max(counts.values())
    if most == 0:
        return OpenPoint("not_times", f"'{next(iter(figures))}' is no date", "describe the times in a layout")
    fitting = [order for order, count in counts.items() if count == most]
    if len(fitting) == 1:
        return _by_part(fitting[0], counts, sum(figures.values()))
    return _among(fitting, texts, settings, words, now_utc)


def _epoch(counts: pl.Series, settings: IntakeSettings, now_utc: datetime) -> Order | OpenPoint | None:
    """Counts of seconds or milliseconds: all but a few have 10 or 13 digits, within the years that can be meant."""
    forms = {form: _mostly(counts, rf"^[0-9]{{{digits}}}$") for digits, form in _EPOCH.items()}
    form, whole = next(((form, mine) for form, mine in forms.items() if mine is not None), ("", counts))
    unique = whole.unique().to_list()
    if not form:
        return _serial(unique)
    scale = 1 if form == "epoch s" else 1000
    earliest = datetime(settings.earliest_year, 1, 1, tzinfo=UTC).timestamp() * scale
    latest = (now_utc + timedelta(hours=settings.latest_hours_ahead)).timestamp() * scale
    if not all(earliest <= int(text) <= latest for text in unique):
        return OpenPoint("not_times", f"'{unique[0]}' is no time that is known", "describe the times in a layout")
    unit = "seconds" if scale == 1 else "milliseconds"
    return Order(form, f"all are whole {unit} since 1970 between {settings.earliest_year} and now")


def _serial(unique: list[str]) -> OpenPoint | None:
    """Plain numbers of five digits may be a spreadsheet's days: only a layout can say so."""
    if not all(re.fullmatch(r"\d{5}([.,]\d+)?", text, re.ASCII) for text in unique):
        return None
    return OpenPoint(
        "serial_open", f"times such as '{unique[0]}' may be a spreadsheet's count of days", "say so under [clock]",
        ("they count days since 1899-12-30", "they are no times"), ('formats = ["sheet serial"]', "another column"),
    )  # fmt: skip


def _orders(figures: list[str]) -> tuple[str, ...]:
    """Orders worth trying: a year of four figures at the end cannot be first."""
    matches = [_ALL_FIGURES.match(text) for text in figures]
    short = any(match is not None and len(match[2]) == 2 for match in matches)
    return ("dmy", "mdy", "ymd") if short else ("dmy", "mdy")


def _fitting(days: dict[str, int], order: str, settings: IntakeSettings, words: HeaderWords) -> int:
    """How many rows have a day that exists in this order. `days`: text of the day, rows that have it."""
    style = DateStyle(order, settings.latest_two_digit_year)
    return sum(rows for day, rows in days.items() if read_written_time(day, style, words) is not None)


def _by_part(order: str, counts: dict[str, int], rows: int) -> Order | OpenPoint:
    """Decided by a part over 12, unless parts over 12 stand in both places."""
    rest = max(count for other, count in counts.items() if other != order)
    broken = rows - counts[order]
    if broken > 0 and broken * 20 > counts[order] - rest:
        return OpenPoint(
            "day_month_mixed", "some dates fit only day first, others only month first", "write all dates alike",
            ("day first", "month first"), ('formats = ["dmy"]', 'formats = ["mdy"]'),
        )  # fmt: skip
    return Order(order, f"{counts[order] - rest} dates have a part over 12 that leaves only {NAMES[order]}")


def _among(
    orders: list[str], texts: pl.Series, settings: IntakeSettings, words: HeaderWords, now_utc: datetime
) -> Order | OpenPoint:
    """Where several orders read every date: one that gives dates in the future is out; steps over midnight decide."""
    read = {order: _moments(texts, order, settings, words) for order in orders}
    latest = (now_utc + timedelta(hours=settings.latest_hours_ahead)).replace(tzinfo=None)
    if in_dots(texts):  # a slip into the future makes no month of a day
        return _open_order(orders, read, texts)
    past = [order for order in orders if not (read[order] > latest).any()]
    if len(past) == 1 and len(orders) == 2:
        other = orders[0] if past[0] != orders[0] else orders[1]
        return Order(past[0], f"read as {NAMES[other]}, dates lie in the future")
    candidates = past or orders
    crossed = {order: _midnights_crossed(read[order], settings) for order in candidates}
    proved = [order for order in candidates if crossed[order] > 0]
    if len(proved) == 1:
        order = proved[0]
        return Order(order, f"only as {NAMES[order]} do the rows run on over midnight at their usual step")
    return _open_order(candidates, read, texts)


def in_dots(texts: pl.Series) -> bool:
    """Whether all days that are written in figures, and not year first, have dots and a year of four figures behind."""
    figured = texts.filter(texts.str.contains(_FIGURED))
    return figured.len() > 0 and figured.str.contains(_DOTTED).all()


def _open_order(candidates: list[str], read: dict[str, pl.Series], texts: pl.Series) -> OpenPoint:
    first, *others = (read[order] for order in candidates)
    apart = pl.Series([False] * texts.len()) if not others else (first != others[0]).fill_null(value=False)
    shown = apart if apart.any() else texts != ""
    example = texts.filter(shown)[0]
    return OpenPoint(
        "day_month_open",
        f"dates such as '{example}' can be read as " + " or as ".join(NAMES[order] for order in candidates),
        "say which under [clock] in a layout, which then holds for every such file",
        tuple(f"{NAMES[order]}: {_first(read[order].filter(shown))}" for order in candidates),
        tuple(f'formats = ["{order}"]' for order in candidates),
    )


def _first(moments: pl.Series) -> str:
    known = moments.drop_nulls()
    return f"{known[0]:%d %B %Y}" if known.len() else ""


def _moments(texts: pl.Series, order: str, settings: IntakeSettings, words: HeaderWords) -> pl.Series:
    style = DateStyle(order, settings.latest_two_digit_year)
    unique = texts.unique().to_list()
    known = {text: moment.local for text in unique if (moment := read_written_time(text, style, words)) is not None}
    if not known:
        return pl.Series([None] * texts.len(), dtype=pl.Datetime("us"))
    return texts.replace_strict(known, default=None, return_dtype=pl.Datetime("us"))


def _midnights_crossed(moments: pl.Series, settings: IntakeSettings) -> int:
    """How often neighbouring rows lie on neighbouring days no further apart than the usual step; 0 out of order."""
    known = moments.drop_nulls()
    steps = known.diff().dt.total_seconds().drop_nulls()
    if known.len() < 3 or not ((steps >= -120).all() or (steps <= 120).all()):
        return 0
    usual = steps.abs().filter(steps != 0).median()
    if not isinstance(usual, (int, float)) or usual > settings.most_regular_step_minutes * 60:
        return 0
    new_day = (known.dt.date().diff().dt.total_days().abs() == 1).drop_nulls()
    return int((new_day & (steps.abs() <= usual * settings.follows_within_steps)).sum())


# Our choice: the least share of the times of a column that are written one way for all to count as written so.
_MOST_WRITTEN = 0.9
_ISO_WITH_OFFSET = r"^\s*\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,9})?)?(Z|[+-]\d\d:?\d\d)\s*$"


def half_day_open(texts: pl.Series, moments: pl.Series, words: HeaderWords) -> OpenPoint | None:
    """Times of a twelve-hour clock without am or pm: hours run from 1 to 12 and start again the same day."""
    hours = moments.drop_nulls().dt.hour()
    if hours.is_empty() or (hours > 12).any() or (hours == 0).any():
        return None
    halves = {folded(word) for half in ("am", "pm") for word in words.clock[half]}
    written = texts.filter(texts != "")
    if _written_so(written, _ISO_WITH_OFFSET):
        return None  # ISO 8601 knows no other hours than those from 00 to 24
    sample = [folded(text) for text in texts.filter(texts != "").head(20).to_list()]
    if any(any(half in text for half in halves) for text in sample):
        return None
    known = moments.drop_nulls()
    if not (_goes_back(known) or _covers_the_clock(hours)):
        return None
    return OpenPoint(
        "half_day_open",
        "hours run from 1 to 12 twice a day, and nothing says morning or afternoon",
        "export the table with 24 hours, or with am and pm",
        ("morning", "afternoon"),
    )


def _written_so(written: pl.Series, pattern: str) -> bool:
    """Whether times are written so but for single odd cells: one damaged time says nothing of the others."""
    return bool(written.len()) and int(written.str.contains(pattern).sum()) >= _MOST_WRITTEN * written.len()


def _goes_back(known: pl.Series) -> bool:
    """Whether hours start again within a day: by half a day, or once in a day of rows that are otherwise in order."""
    back = known.diff().dt.total_minutes()
    days = known.dt.date()
    same_day = days.diff().dt.total_days() == 0
    forwards = (back > 0).sum() >= (back < 0).sum()
    against = -back if forwards else back
    # Summer time ends in a Sunday's early hours: the clock goes back by an hour, less one step of the log.
    clock_change = (known.dt.weekday() == SUNDAY) & (known.dt.hour() <= CLOCKS_CHANGE_UNTIL_HOUR) & (against <= 60)
    same_day = same_day & ~clock_change
    large = int((same_day & (against >= LEAST_STEP_BACK_MINUTES)).sum())
    small = int((same_day & against.is_between(3, LEAST_STEP_BACK_MINUTES - 1)).sum())
    if large and small <= large:
        return True
    steps = pl.DataFrame({"day": days, "back": same_day & (against >= 3)}).group_by("day").agg(pl.col("back").sum())
    between = (~same_day & (against > 0)).sum()  # days themselves in no order: nothing can be said
    return bool(steps["back"].max() == 1 and not between)


def _covers_the_clock(hours: pl.Series) -> bool:
    """Whether many rows stand at nearly every hour from 1 to 12 and at none of the others: no life is like that."""
    return hours.len() >= _ENOUGH_ROWS and hours.n_unique() >= _MOST_HOURS
