"""Text columns to instants: polars reads the usual spellings, `written_times` everything else."""

import re
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.connectors.layout import Clock
from gramrise.domain.frames import UTC
from gramrise.domain.person import Person
from gramrise.intake.cells.clock_changes import place
from gramrise.intake.cells.time_cells import goes_back, time_text
from gramrise.intake.cells.written_spans import lone_spans
from gramrise.intake.cells.written_times import DateStyle, WrittenTime, read_written_time
from gramrise.intake.context import ReadContext
from gramrise.intake.files import TextTable
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import HeaderWords

ORDERS = ("iso", "ymd", "dmy", "mdy")
_EPOCHS = {"epoch s": 1_000_000, "epoch ms": 1_000}
_SERIAL_START = datetime(1899, 12, 30)  # noqa: DTZ001 - day 0 of spreadsheets, a wall-clock date
_LOCAL = pl.Datetime("us")
_ENDS_IN_OFFSET = r"(?i):\d{2}.{0,40}(z|utc|gmt|[+-]\d{2}(:?\d{2})?)(\[.{0,60}\])?\s*$"
# Our choice: where fewer rows have an offset of another zone, the others are what the file is about.
_SHARE_OF_OTHER_OFFSETS = 0.2
_TAIL = re.compile(r"(?:Z|[+-]\d{2}:\d{2}|[+-]\d{4})\Z")


@dataclass(frozen=True, slots=True)
class ReadTimes:
    """Per row of the table: at_utc, offset_minutes i32, certain bool, no_time str (code of the trouble, '' when none).

    Beside them local (the wall-clock value as written), timed (False: a day alone) and time_text, as the file has it.
    """

    frame: pl.DataFrame
    last_utc: int | None  # epoch microseconds of the last instant, for the part of the file that follows


def read_times(table: TextTable, clock: Clock, context: ReadContext, before_utc: int | None = None) -> ReadTimes:
    """Instants of a table's rows.

    before_utc  epoch microseconds of the last instant of the part of the file that came before, if any

    Troubles: no_time, not_a_time, no_time_of_day, no_such_local_time, time_out_of_range, day_open, offset_missing.
    """
    settings = context.settings
    text = time_text(table, clock)
    local = _written(table, text, clock, context)
    placed = _placed(local, clock, context.person, settings, before_utc).with_columns(text=text)
    turned = goes_back(table, clock, placed["local"])
    frame = placed.with_columns(no_time=_troubles(placed, context))
    if turned.any():
        open_day = turned & (frame["no_time"] == "")
        frame = frame.with_columns(no_time=pl.when(open_day).then(pl.lit("day_open")).otherwise(pl.col("no_time")))
    bare, others = _bare_rows(local, clock, context.person)
    if others > 0 and others >= _SHARE_OF_OTHER_OFFSETS * local.height:
        missing = bare & (frame["no_time"] == "")
        frame = frame.with_columns(no_time=pl.when(missing).then(pl.lit("offset_missing")).otherwise(pl.col("no_time")))
    known = frame["at_utc"].drop_nulls()
    last = int(known.to_physical()[-1]) if known.len() else before_utc
    kept = frame.select(
        "at_utc", "offset_minutes", "certain", "no_time", "local", "timed", pl.col("text").alias("time_text")
    )
    return ReadTimes(kept, last)


def _written(table: TextTable, text: pl.Series, clock: Clock, context: ReadContext) -> pl.DataFrame:
    """As `_local_times`, with the offsets of a column beside them."""
    local = _local_times(text, clock, context.settings, context.words)
    lone = lone_spans(text)
    if lone.any():
        local = local.with_columns(local=pl.when(lone).then(None).otherwise(pl.col("local")))
    return _with_offset_column(local, table, clock) if clock.offset_column else local


def bare_among_offsets(table: TextTable, clock: Clock, context: ReadContext) -> tuple[int, int]:
    """How many times have no offset, and how many have one that the clock's zone does not have then."""
    text = time_text(table, clock)
    ended = text.str.contains(_ENDS_IN_OFFSET).fill_null(value=False)
    if not clock.offset_column and (not ended.any() or ended.all()):
        return 0, 0
    bare, others = _bare_rows(_written(table, text, clock, context), clock, context.person)
    return int(bare.sum()), others


def _bare_rows(local: pl.DataFrame, clock: Clock, person: Person) -> tuple[pl.Series, int]:
    """Which rows have a time and no offset, and how many have one that the zone does not have then.

    Where all offsets are those of the zone, as in an hour that came twice, a time without one is of the zone, too.
    """
    offset = pl.col("offset_minutes").is_not_null()
    bare = local.select((pl.col("local").is_not_null() & pl.col("timed") & ~offset & ~pl.col("utc")).alias("bare"))
    if not bare["bare"].any() or bare["bare"].all():
        return bare["bare"], 0
    stated = local.filter(offset & pl.col("local").is_not_null()).select(
        "local", at=(pl.col("local") - pl.duration(minutes=pl.col("offset_minutes"))).dt.replace_time_zone("UTC")
    )
    own = [
        pl.col("at").dt.convert_time_zone(zone.key).dt.replace_time_zone(None) == pl.col("local")
        for zone in {zone for zone, _, _ in zones_of(clock, person)}
    ]
    return bare["bare"], stated.filter(~pl.any_horizontal(own)).height


def _troubles(placed: pl.DataFrame, context: ReadContext) -> pl.Expr:
    """The code of what is wrong with each row's time; '' where nothing is."""
    span = (context.earliest_utc, context.latest_utc)
    inside = placed["at_utc"].is_between(*span)
    if inside.null_count() == 0 and inside.all() and placed["timed"].all():
        return pl.lit("")
    return (
        pl.when(pl.col("text") == "").then(pl.lit("no_time"))
        .when(~pl.col("timed")).then(pl.lit("no_time_of_day"))
        .when(pl.col("local").is_null()).then(pl.lit("not_a_time"))
        .when(pl.col("at_utc").is_null()).then(pl.lit("no_such_local_time"))
        .when(~pl.col("at_utc").is_between(*span)).then(pl.lit("time_out_of_range"))
        .otherwise(pl.lit(""))
    )  # fmt: skip


def _local_times(text: pl.Series, clock: Clock, settings: IntakeSettings, words: HeaderWords) -> pl.DataFrame:
    """local datetime (wall clock, or UTC where utc is set), offset_minutes, timed, utc (the value is an instant)."""
    frame = pl.DataFrame({"text": text}).with_columns(
        local=pl.lit(None, dtype=_LOCAL), offset_minutes=pl.lit(None, dtype=pl.Int32), timed=True, utc=False
    )
    for form in clock.formats:
        frame = _filled(frame, form, settings, words)
    return frame.drop("text")


def _filled(frame: pl.DataFrame, form: str, settings: IntakeSettings, words: HeaderWords) -> pl.DataFrame:
    """The frame with rows not yet read tried in one more form."""
    if form in _EPOCHS:
        whole = pl.col("text").str.contains(r"^\d{9,13}(\.\d+)?$")
        micro = (pl.col("text").cast(pl.Float64, strict=False) * _EPOCHS[form]).round().cast(pl.Int64).cast(_LOCAL)
        return _merge(frame, frame.select(local=pl.when(whole).then(micro), utc=pl.lit(True)))
    if form == "sheet serial":
        seconds = (pl.col("text").cast(pl.Float64, strict=False) * 86_400).round().cast(pl.Int64)
        usable = pl.col("text").str.contains(r"^\d{4,5}([.,]\d+)?$")
        read = pl.lit(_SERIAL_START).cast(_LOCAL) + pl.duration(seconds=seconds)
        return _merge(frame, frame.select(local=pl.when(usable).then(read), utc=pl.lit(False)))
    if form not in ORDERS:
        read = pl.col("text").str.to_datetime(form, time_unit="us", strict=False)
        return _merge(frame, frame.select(local=read, utc=pl.lit(False)))
    return _by_order(frame, form, settings, words)


def _merge(frame: pl.DataFrame, read: pl.DataFrame) -> pl.DataFrame:
    fresh = frame["local"].is_null() & read["local"].is_not_null()
    return frame.with_columns(
        local=pl.coalesce(pl.col("local"), read["local"]), utc=pl.when(fresh).then(read["utc"]).otherwise(pl.col("utc"))
    )


def _by_order(frame: pl.DataFrame, order: str, settings: IntakeSettings, words: HeaderWords) -> pl.DataFrame:
    style = DateStyle("ymd" if order == "iso" else order, settings.latest_two_digit_year, strict=order == "iso")
    unread = frame["local"].is_null() & (frame["text"] != "")
    sample = frame.filter(unread)["text"].head(1)
    pattern = _pattern(sample[0], style, words) if sample.len() else None
    if pattern is not None:
        frame = _fast(frame, *pattern)
    return _carefully(frame, style, words)


def _pattern(text: str, style: DateStyle, words: HeaderWords) -> tuple[str, int] | None:
    """The strftime pattern of a text and the length of its offset tail; None where only the careful reader will do."""
    moment = read_written_time(text, style, words)
    tail = _TAIL.search(text)
    cut = len(tail.group()) if tail else 0
    body = text[:-cut] if cut else text
    shape = re.fullmatch(r"(\d+)([-/.])(\d+)\2(\d+)([T ])(\d{2}):(\d{2})(:\d{2})?", body, re.ASCII)
    if moment is None or shape is None or (cut and moment.utc_known):
        return None
    order = "ymd" if len(shape[1]) == 4 else style.order
    day = shape[2].join({"y": "%Y", "m": "%m", "d": "%d"}[part] for part in order)
    pattern = f"{day}{shape[5]}%H:%M" + (":%S" if shape[8] else "")
    try:
        fits = datetime.strptime(body, pattern) == moment.local  # noqa: DTZ007 - a wall-clock value
    except ValueError:
        return None
    return (pattern, cut) if fits else None


def _fast(frame: pl.DataFrame, pattern: str, cut: int) -> pl.DataFrame:
    body = pl.col("text").str.head(-cut) if cut else pl.col("text")
    # The same shape as the sample, to the letter: chrono alone would also take other numbers of digits and blanks.
    shaped = pl.col("text").str.len_bytes() == len(_example(pattern)) + cut
    read = body.str.to_datetime(pattern, time_unit="us", strict=False)
    usable = shaped & pl.col("local").is_null() & (read.dt.year() >= 1000)
    whole = None if cut else _all_alike(frame, pattern)
    if whole is not None:
        return frame.with_columns(local=whole)
    if not cut:
        return frame.with_columns(local=pl.when(usable).then(read).otherwise(pl.col("local")))
    tails = frame.select(pl.col("text").str.tail(cut)).to_series().unique().drop_nulls().to_list()
    known = {tail: _tail_minutes(tail) for tail in tails if _TAIL.fullmatch(tail)}
    offsets = {tail: minutes for tail, minutes in known.items() if minutes is not None}
    if not offsets:
        return frame
    minutes = pl.col("text").str.tail(cut).replace_strict(offsets, default=None, return_dtype=pl.Int32)
    usable &= minutes.is_not_null()
    return frame.with_columns(
        local=pl.when(usable).then(read).otherwise(pl.col("local")),
        offset_minutes=pl.when(usable).then(minutes).otherwise(pl.col("offset_minutes")),
    )


def _all_alike(frame: pl.DataFrame, pattern: str) -> pl.Series | None:
    """The whole column read at once, where nothing was read before and every row is a time of the sample's shape."""
    lengths = frame["text"].str.len_bytes()
    if frame["local"].null_count() < frame.height or (lengths != len(_example(pattern))).any():
        return None
    read = frame["text"].str.strptime(pl.Datetime("us"), pattern, strict=False, cache=False)
    earliest = read.min()
    sound = read.null_count() == 0 and isinstance(earliest, datetime) and earliest.year >= 1000
    return read if sound else None


def _example(pattern: str) -> str:
    return (
        pattern.replace("%Y", "2000")
        .replace("%m", "01")
        .replace("%d", "01")
        .replace("%H", "00")
        .replace("%M", "00")
        .replace("%S", "00")
    )


def _tail_minutes(tail: str) -> int | None:
    moment = read_written_time(f"2000-01-01 00:00{tail}", DateStyle("ymd", 68))
    return moment.offset_minutes if moment is not None else None


def _carefully(frame: pl.DataFrame, style: DateStyle, words: HeaderWords) -> pl.DataFrame:
    """What is still unread, each different text once."""
    unread = frame["local"].is_null() & (frame["text"] != "")
    if not unread.any():
        return frame
    texts = frame.filter(unread)["text"].unique(maintain_order=True).to_list()
    moments = {text: read_written_time(text, style, words) for text in texts}
    read = pl.DataFrame(
        [(text, *_row_of(moment)) for text, moment in moments.items() if moment is not None],
        schema={"text": pl.String, "l": _LOCAL, "o": pl.Int32, "t": pl.Boolean, "u": pl.Boolean},
        orient="row",
    )
    joined = frame.join(read, on="text", how="left", maintain_order="left")
    fresh = pl.col("local").is_null() & pl.col("l").is_not_null()
    return joined.with_columns(
        local=pl.when(fresh).then(pl.col("l")).otherwise(pl.col("local")),
        offset_minutes=pl.when(fresh).then(pl.col("o")).otherwise(pl.col("offset_minutes")),
        timed=pl.when(fresh).then(pl.col("t")).otherwise(pl.col("timed")),
        utc=pl.when(fresh).then(pl.col("u")).otherwise(pl.col("utc")),
    ).drop("l", "o", "t", "u")


def _row_of(moment: WrittenTime) -> tuple[datetime, int | None, bool, bool]:
    return moment.local, moment.offset_minutes, moment.timed, moment.utc_known


def _with_offset_column(local: pl.DataFrame, table: TextTable, clock: Clock) -> pl.DataFrame:
    """The offset where it stands apart: hours ('2', '-3.5') or '+02:00'."""
    column = table.column(clock.offset_column)
    if column is None:
        return local
    text = table.cells[column].fill_null("").str.strip_chars()
    minutes = {entry: offset_minutes(entry, clock.offset_unit) for entry in text.unique().to_list()}
    known = {entry: value for entry, value in minutes.items() if value is not None}
    apart = text.replace_strict(known, default=None, return_dtype=pl.Int32)
    odd = (text != "") & apart.is_null()  # an offset that nobody can read leaves the instant unknown
    return local.with_columns(
        offset_minutes=pl.coalesce(pl.col("offset_minutes"), apart),
        local=pl.when(odd & pl.col("offset_minutes").is_null()).then(None).otherwise(pl.col("local")),
    )


def offset_minutes(text: str, unit: str) -> int | None:
    """Minutes east of UTC that a cell states: '+02:00', 'UTC+2', or a number of `unit`; None where it states none."""
    plain = text.strip().replace("\u2212", "-").upper().removeprefix("UTC").removeprefix("GMT").strip()
    if plain in {"", "Z"}:
        return 0 if text.strip() else None
    if ":" in plain or re.fullmatch(r"[+-]\d{4}", plain):
        return _tail_minutes(plain if plain[:1] in "+-" else f"+{plain}")
    try:
        minutes = float(plain.replace(",", ".")) * {"hours": 60.0, "minutes": 1.0, "seconds": 1 / 60}[unit]
    except ValueError:
        return None
    return round(minutes) if abs(minutes) <= 14 * 60 else None


def _placed(
    local: pl.DataFrame, clock: Clock, person: Person, settings: IntakeSettings, before_utc: int | None
) -> pl.DataFrame:
    """Written offsets first; then wall times, each in the zone that holds on its date."""
    zones = zones_of(clock, person)
    if len(zones) == 1 and local["offset_minutes"].null_count() == local.height and not local["utc"].any():
        alone = place(local["local"], zones[0][0], settings, before_utc)
        return local.with_columns(alone.at_utc, alone.certain)
    by_offset = (pl.col("local") - pl.duration(minutes=pl.col("offset_minutes"))).dt.replace_time_zone("UTC").cast(UTC)
    known = pl.col("local").dt.replace_time_zone("UTC").cast(UTC)
    frame = local.with_columns(
        at_utc=pl.when(pl.col("utc")).then(known).when(pl.col("offset_minutes").is_not_null()).then(by_offset),
        certain=pl.lit(True),
    )
    open_rows = frame["at_utc"].is_null() & frame["local"].is_not_null()
    if not open_rows.any():
        return frame
    for zone, from_day, to_day in zones:
        here = open_rows
        if from_day is not None:
            here &= frame["local"].dt.date() >= from_day
        if to_day is not None:
            here &= frame["local"].dt.date() < to_day
        here = here.fill_null(False)
        if here.any():
            wall = pl.select(pl.when(here).then(frame["local"])).to_series()
            placed = place(wall, zone, settings, before_utc, frame["at_utc"])
            frame = frame.with_columns(
                at_utc=placed.at_utc, certain=pl.when(here).then(placed.certain).otherwise(pl.col("certain"))
            )
    return frame


def zones_of(clock: Clock, person: Person) -> list[tuple[ZoneInfo, date | None, date | None]]:
    """Zones and the local dates [from, to) on which each holds; the first also holds before its own date."""
    return [(ZoneInfo(clock.zone), None, None)] if clock.zone != "person" else dated_zones(person)


def dated_zones(person: Person) -> list[tuple[ZoneInfo, date | None, date | None]]:
    """The person's zones and the local dates [from, to) on which each holds; the first also before its own date."""
    entries = person.zone.entries
    ends = [day for day, _ in entries[1:]]
    return [
        (zone, None if at == 0 else day, ends[at] if at < len(ends) else None) for at, (day, zone) in enumerate(entries)
    ]
