"""A table and its layout to rows of each kind: good ones as frames, bad ones with place and mend."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import polars as pl

from gramrise.connectors import layout as shape
from gramrise.domain.batch import Quarantined, Question
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, READINGS, WEIGHTS
from gramrise.intake.cells.numbers import number_expression
from gramrise.intake.cells.time_columns import read_times
from gramrise.intake.cells.unit_suffixes import BEHIND
from gramrise.intake.context import ReadContext
from gramrise.intake.files.text_table import ROW, TextTable
from gramrise.intake.rows.dose_entries import DoseEntry
from gramrise.intake.rows.dose_rows import add_dose_entries, take_doses
from gramrise.intake.rows.entry_rows import entry_rows_of
from gramrise.intake.rows.event_rows import take_amounts, take_happenings
from gramrise.intake.rows.glucose_rows import take_glucose
from gramrise.intake.rows.quarantine import BAD_ROWS, Quarantine
from gramrise.intake.rows.weight_rows import take_weights
from gramrise.intake.words import folded


@dataclass(slots=True)
class Taken:
    """What one table (or one block of a large one) gave."""

    readings: pl.DataFrame = field(default_factory=READINGS.empty)
    fingers: pl.DataFrame = field(default_factory=FINGERS.empty)
    doses: pl.DataFrame = field(default_factory=DOSES.empty)
    events: pl.DataFrame = field(default_factory=EVENTS.empty)
    weights: pl.DataFrame = field(default_factory=WEIGHTS.empty)
    quarantine: tuple[Quarantined, ...] = ()
    questions: list[Question] = field(default_factory=list)
    rows_offered: int = 0
    rows_repeated: int = 0
    rows_passed_over: int = 0
    unstated: list[str] = field(default_factory=list)  # as of TakenDoses
    last_utc: int | None = None


class TableReader:
    """Reads one table by one layout, whose open entries are settled (see `settling`)."""

    def __init__(
        self, table: TextTable, layout: shape.Layout, context: ReadContext, before_utc: int | None = None
    ) -> None:
        self.layout, self.context = layout, context
        self.person, self.settings, self.words = context.person, context.settings, context.words
        self.taken = Taken()
        entries = entry_rows_of(table, layout.file.total_words, self.words)
        self.taken.rows_offered, self.taken.rows_passed_over = entries.offered, entries.passed_over
        self.table = table.with_cells(entries.cells)
        self.quarantine = Quarantine(self.table, self.settings)
        self.quarantine.add(entries.too_wide, "")
        self.before_utc = before_utc
        self.frame = pl.DataFrame()

    def read(self, bad_lines: Sequence[tuple[int, str]] = ()) -> Taken:
        """The table's rows. `bad_lines` (row, text) of the file that are no entries at all are set aside with them."""
        bad = [(row, "not_an_object", text) for row, text in bad_lines]
        self.quarantine.add(pl.DataFrame(bad, schema=BAD_ROWS, orient="row"), "")
        self.taken.rows_offered += len(bad)
        taken, table = self.taken, self.table
        if table.cells.height == 0:
            taken.quarantine = self.quarantine.in_order
            return taken
        clock = self.layout.clock
        assert clock is not None  # a layout with parts has one
        times = read_times(table, clock, self.person, self.settings, self.words, self.context.now_utc, self.before_utc)
        taken.last_utc = times.last_utc
        self.frame = pl.concat([table.cells, times.frame], how="horizontal").with_columns(status=pl.lit("blank"))
        for part in self.layout.brings:
            self._part(part)
        taken.rows_passed_over += int((self.frame["status"] == "blank").sum())
        taken.quarantine = self.quarantine.in_order
        return taken

    def read_entries(
        self, entries: list[DoseEntry], bad: list[tuple[int, str, str]], lines: int, origin: str = "note"
    ) -> Taken:
        """What the entries of a text note give."""
        self.taken.rows_offered = lines
        add_dose_entries(self, entries, False, origin, "")
        frame = pl.DataFrame(bad, schema=BAD_ROWS, orient="row")
        self.quarantine.add(frame, "")
        self.taken.quarantine = self.quarantine.in_order
        return self.taken

    def column(self, name: str) -> str:
        """The frame's column for a name of the layout."""
        column = self.table.column(name)
        assert column is not None, name  # held by `settling`
        return column

    def text(self, name: str, *, may_lack: bool = False) -> pl.Expr:
        """A column's cells, trimmed; '' where the layout names none, or the table may lack it and does."""
        if not name or (may_lack and self.table.column(name) is None):
            return pl.lit("")
        return pl.col(self.column(name)).fill_null("").str.strip_chars()

    def rows_for(self, part: shape.Part) -> pl.DataFrame:
        """Rows a part is meant for, with `value` text to be filled by its reader."""
        if part.when is None:
            return self.frame
        text = self.frame.select(self.text(part.when.column).alias("w"))["w"]
        if not part.when.words:
            return self.frame.filter(text != "")
        wanted = {folded(word) for word in part.when.words}
        fitting = [entry for entry in text.unique().to_list() if folded(entry) in wanted]
        return self.frame.filter(text.is_in(fitting))

    def with_number(self, rows: pl.DataFrame, name: str, unit: str) -> pl.DataFrame:
        """Rows with a column's trimmed text as `value`, and as f64 `number`, its unit ('' or a key of BEHIND) aside."""
        rows = self.with_value(rows, name)
        plain = pl.col("value").str.replace(BEHIND[unit], "") if unit else pl.col("value")
        number = number_expression("plain", self.layout.file.decimal, self.layout.file.thousands)
        return rows.with_columns(plain=plain).with_columns(number=number).drop("plain")

    # -- the parts --------------------------------------------------------------------------------------------------

    def _part(self, part: shape.Part) -> None:
        rows = self.rows_for(part)
        if isinstance(part, shape.Glucose):
            take_glucose(self, part, rows)
        elif isinstance(part, shape.GlucoseGiven):
            take_doses(self, part, rows)
        elif isinstance(part, shape.Insulin):
            take_amounts(self, part, rows, part.units, "insulin", self.settings.most_insulin_units, 1.0)
        elif isinstance(part, shape.Food) and not part.grams:
            take_happenings(self, rows, "food", part.note)
        elif isinstance(part, shape.Food):
            take_amounts(
                self, part, rows, part.grams, "food", self.settings.most_carbohydrate_g, part.grams_per_portion
            )
        elif isinstance(part, shape.Weight):
            take_weights(self, part, rows)
        else:
            take_happenings(self, rows, part.kind, part.text or part.note, part.until, chosen=part.when is not None)

    def with_value(self, rows: pl.DataFrame, name: str) -> pl.DataFrame:
        """Rows with a column's trimmed text as `value`."""
        return rows.with_columns(value=self.text(name))

    def judged(self, rows: pl.DataFrame, label: str, *, unsure_is_bad: bool = True) -> pl.DataFrame:
        """Sets rows aside by their `code`, keeps the good; a row without a value is neither."""
        sound = (pl.col("code") == "").all() & (pl.col("no_time") == "").all()
        if rows.height and rows.select(sound & pl.col("certain").all()).item():
            self._mark(rows)
            return rows
        held = rows.filter(pl.col("code") != "blank")
        time_code = pl.col("no_time")
        if unsure_is_bad:
            time_code = (
                pl.when((time_code == "") & ~pl.col("certain")).then(pl.lit("time_ambiguous")).otherwise(time_code)
            )
        held = held.with_columns(no_time=time_code)
        bad_time = held.filter(pl.col("no_time") != "")
        clock = self.layout.clock
        assert clock is not None  # as above
        time_label = " ".join(self.table.label(self.column(name)) for name in clock.columns)
        fresh = bad_time.join(self._named_rows(), on=ROW, how="anti")
        self.quarantine.add(fresh.select(ROW, code="no_time", found="time_text"), time_label)
        bad_value = held.filter((pl.col("no_time") == "") & (pl.col("code") != ""))
        self.quarantine.add(bad_value.select(ROW, "code", found="value"), label)
        self._mark(held)
        return held.filter((pl.col("no_time") == "") & (pl.col("code") == ""))

    def _named_rows(self) -> pl.DataFrame:
        """Rows whose time has been set aside already for another part."""
        rows = [one.trouble.row for one in self.quarantine.rows]
        return pl.DataFrame({ROW: pl.Series(ROW, rows, dtype=pl.Int64)})

    def _mark(self, held: pl.DataFrame) -> None:
        if held.height == self.frame.height:
            self.frame = self.frame.with_columns(status=pl.lit("used"))
        elif held.height:
            used = self.frame[ROW].is_in(held[ROW].implode())
            self.frame = self.frame.with_columns(status=pl.when(used).then(pl.lit("used")).otherwise(pl.col("status")))
