"""A table and its layout to rows of each kind: good ones as frames, bad ones with place and mend."""

from dataclasses import dataclass, field
from datetime import datetime

import polars as pl

from gramrise.connectors import layout as shape
from gramrise.domain.batch import Quarantined, Question
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, READINGS, WEIGHTS
from gramrise.domain.person import Person
from gramrise.domain.units import KG_PER_LB, GlucoseUnit
from gramrise.intake import dose_rows
from gramrise.intake.amounts import form_named
from gramrise.intake.figures import number_expression
from gramrise.intake.glucose_rows import glucose_rows
from gramrise.intake.problems import FileWaits
from gramrise.intake.questions import weight_questions
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.table import ROW, Table
from gramrise.intake.times import read_times
from gramrise.intake.troubles import Quarantine
from gramrise.intake.units_written import decimal_proved, glucose_unit_in, weight_unit_in
from gramrise.intake.words import HeaderWords, folded


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
    last_utc: int | None = None


@dataclass(frozen=True, slots=True)
class Circumstances:
    """Everything beside the table that its reading depends on."""

    person: Person
    settings: IntakeSettings
    words: HeaderWords
    now_utc: datetime


class TableReader:
    """Reads one table by one layout."""

    def __init__(
        self, table: Table, layout: shape.Layout, around: Circumstances, before_utc: int | None = None
    ) -> None:
        self.layout, self.around = layout, around
        self.person, self.settings, self.words = around.person, around.settings, around.words
        self.taken = Taken()
        self.table = self._entries_only(table)
        self.quarantine = Quarantine(self.table, self.settings)
        self.before_utc = before_utc
        self.frame = pl.DataFrame()
        self.decimal: str | None = None

    def read(self) -> Taken:
        """The table's rows. Raises FileWaits where a column, unit or decimal mark stays open."""
        taken, table = self.taken, self.table
        if table.cells.height == 0:
            return taken
        clock = self.layout.clock
        assert clock is not None  # a layout with parts has one
        for name in (*clock.columns, *filter(None, [clock.offset_column])):
            self._column(name)
        times = read_times(table, clock, self.person, self.settings, self.words, self.around.now_utc, self.before_utc)
        taken.last_utc = times.last_utc
        self.frame = pl.concat([table.cells, times.frame], how="horizontal").with_columns(status=pl.lit("blank"))
        for part in self.layout.brings:
            self._part(part)
        taken.rows_passed_over += int((self.frame["status"] == "blank").sum())
        taken.quarantine = self.quarantine.in_order
        return taken

    # -- the rows offered -------------------------------------------------------------------------------------------

    def _entries_only(self, table: Table) -> Table:
        """Without blank rows, totals and repeated headers; totals and headers are counted as passed over."""
        columns = [str(at) for at in range(table.width)]
        if not columns or table.cells.height == 0:
            return table
        filled = pl.any_horizontal((pl.col(column).fill_null("") != "") for column in columns)
        first = pl.coalesce(pl.when(pl.col(column) != "").then(pl.col(column)) for column in columns)
        cells = table.cells.filter(filled)
        self.taken.rows_offered = cells.height
        totals = tuple(folded(word) for word in (*self.words.rows["total"], *self.layout.file.total_words))
        candidates = cells.select(first.str.strip_chars().str.to_lowercase().alias("f"))["f"]
        wordy = candidates.str.contains(r"^\p{L}")
        if wordy.any():
            header = tuple(folded(cell) for cell in table.header)
            passed = [
                at
                for at in wordy.arg_true().to_list()
                if _is_total(candidates[at], totals) or (header and folded(cells[columns[0]][at] or "") == header[0])
            ]
            self.taken.rows_passed_over += len(passed)
            if passed:
                cells = cells.with_row_index("at").filter(~pl.col("at").is_in(passed)).drop("at")
        return table.with_cells(cells)

    def _column(self, name: str) -> str:
        column = self.table.column(name)
        if column is None:
            raise FileWaits(
                "column_missing",
                self.table.file,
                f"layout '{self.layout.name}' needs a column '{name}', which the table does not have",
                "choose another layout, or change the column's name in it",
            )
        return column

    def _text(self, name: str, *, may_lack: bool = False) -> pl.Expr:
        if not name or (may_lack and self.table.column(name) is None):
            return pl.lit("")
        return pl.col(self._column(name)).fill_null("").str.strip_chars()

    def _rows_for(self, part: shape.Part) -> pl.DataFrame:
        """Rows a part is meant for, with `value` text to be filled by its reader."""
        if part.when is None:
            return self.frame
        text = self.frame.select(self._text(part.when.column).alias("w"))["w"]
        if not part.when.words:
            return self.frame.filter(text != "")
        wanted = {folded(word) for word in part.when.words}
        fitting = [entry for entry in text.unique().to_list() if folded(entry) in wanted]
        return self.frame.filter(text.is_in(fitting))

    def _decimal_of(self, column: str) -> str:
        """The decimal mark: declared, else proved by the column's numbers."""
        declared = self.layout.file.decimal
        if declared != "auto":
            return declared
        if self.table.typed:
            return "."
        proved = decimal_proved(self.table.cells[column])
        if proved is None:
            example = (
                self.table.cells[column]
                .drop_nulls()
                .filter(self.table.cells[column].drop_nulls().str.contains("[.,]"))[0]
            )
            raise FileWaits(
                "decimal_open",
                self.table.file,
                f"the mark in '{example}', column '{self.table.label(column)}', may part decimals or thousands",
                "say which it is under [file] in a layout",
                readings=("the mark parts decimals", "the mark parts thousands"),
                lines=(
                    f'decimal = "{"," if "," in example else "."}"',
                    f'thousands = "{"," if "," in example else "."}"',
                ),
            )
        return proved or "."

    # -- the parts --------------------------------------------------------------------------------------------------

    def _part(self, part: shape.Part) -> None:
        rows = self._rows_for(part)
        if isinstance(part, shape.Glucose):
            self._glucose(part, rows)
        elif isinstance(part, shape.GlucoseGiven):
            self._doses(part, rows)
        elif isinstance(part, shape.Insulin):
            self._amounts(part, rows, part.units, "insulin", self.settings.most_insulin_units, 1.0)
        elif isinstance(part, shape.Food):
            self._amounts(part, rows, part.grams, "food", self.settings.most_carbohydrate_g, part.grams_per_portion)
        elif isinstance(part, shape.Weight):
            self._weights(part, rows)
        else:
            self._happenings(part, rows)

    def _with_value(self, rows: pl.DataFrame, name: str) -> pl.DataFrame:
        return rows.with_columns(value=self._text(name))

    def _judged(self, rows: pl.DataFrame, label: str, *, unsure_is_bad: bool = True) -> pl.DataFrame:
        """Sets rows aside by their `code`, keeps the good; a row without a value is neither."""
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
        time_label = " ".join(self.table.label(self._column(name)) for name in clock.columns)
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

    def _glucose(self, part: shape.Glucose, rows: pl.DataFrame) -> None:
        column = self._column(part.value)
        label = self.table.label(column)
        unit = glucose_unit_in(label, self.words) if part.unit == "in header" else GlucoseUnit(part.unit)
        if unit is None:
            raise FileWaits(
                "unit_open",
                self.table.file,
                f"nothing says in which unit the values of column '{label}' are",
                "write the unit into the header, or say it in a layout",
                readings=("the values are mg/dL", "the values are mmol/L"),
                lines=('unit = "mg/dL"', 'unit = "mmol/L"'),
            )
        rows = glucose_rows(
            self._with_value(rows, part.value), part, unit, self._decimal_of(column), self.layout.file.thousands,
            self.settings, self.words,
        )  # fmt: skip
        good = self._judged(rows, label)
        good = self._one_an_instant(good, label)
        contract = READINGS if part.kind == "readings" else FINGERS
        named = good.with_columns(person_id=pl.lit(self.person.person_id)).select(contract.schema.keys())
        before = self.taken.readings if part.kind == "readings" else self.taken.fingers
        joined = contract.check(pl.concat([before, named]) if before.height else named)
        if part.kind == "readings":
            self.taken.readings = joined
        else:
            self.taken.fingers = joined

    def _one_an_instant(self, good: pl.DataFrame, label: str) -> pl.DataFrame:
        """One row an instant: equal ones are repeats, unequal ones are set aside, the first stays."""
        steps = good["at_utc"].to_physical().diff().drop_nulls()
        if (steps > 0).all() or (steps < 0).all():
            return good
        first = good["at_utc"].is_first_distinct()
        kept, again = good.filter(first), good.filter(~first)
        if again.height == 0:
            return good
        values = kept.select("at_utc", first_value="glucose_mg_dl", first_range="range")
        both = again.join(values, on="at_utc", how="left", maintain_order="left")
        same = (pl.col("glucose_mg_dl") == pl.col("first_value")) & (pl.col("range") == pl.col("first_range"))
        self.taken.rows_repeated += both.filter(same).height
        unequal = both.filter(~same)
        self.quarantine.add(unequal.select(ROW, code=pl.lit("two_values"), found="value"), label)
        return kept

    def _amounts(
        self, part: shape.Insulin | shape.Food, rows: pl.DataFrame, name: str, kind: str, most: float, scale: float
    ) -> None:
        """Insulin units or grams of carbohydrate; a zero says nothing was given and is passed over."""
        column = self._column(name)
        number = number_expression("value", self._decimal_of(column), self.layout.file.thousands) * scale
        rows = self._with_value(rows, name).with_columns(amount=number)
        amount = pl.col("amount")
        code = (
            pl.when((pl.col("value") == "") | (amount == 0)).then(pl.lit("blank"))
            .when(amount.is_null()).then(pl.lit("not_a_number"))
            .when(~amount.is_between(0, most)).then(pl.lit("amount_implausible"))
            .otherwise(pl.lit(""))
        )  # fmt: skip
        good = self._judged(rows.with_columns(code=code), self.table.label(column), unsure_is_bad=False)
        self._add_events(good, kind, part.note)

    def _happenings(self, part: shape.Happening, rows: pl.DataFrame) -> None:
        rows = rows.with_columns(value=self._text(part.text), code=pl.lit(""), amount=pl.lit(None, dtype=pl.Float64))
        if part.when is None and part.text:
            rows = rows.with_columns(code=pl.when(pl.col("value") == "").then(pl.lit("blank")).otherwise(pl.lit("")))
        good = self._judged(rows, part.text, unsure_is_bad=False)
        if part.until:
            ends = self._ends(part.until, good)
            good = good.with_columns(until_utc=ends)
        self._add_events(good, part.kind, part.text or part.note)

    def _ends(self, name: str, good: pl.DataFrame) -> pl.Series:
        clock = self.layout.clock
        assert clock is not None  # as above
        at = clock.model_copy(update={"columns": (name,), "offset_column": "", "day_carried": False})
        cells = good.select(ROW, *(str(column) for column in range(self.table.width)))
        ends = read_times(
            self.table.with_cells(cells), at, self.person, self.settings, self.words, self.around.now_utc
        ).frame
        return ends.select(pl.when(pl.col("no_time") == "").then(pl.col("at_utc"))).to_series().alias("until_utc")

    def _add_events(self, good: pl.DataFrame, kind: str, text_column: str) -> None:
        if "until_utc" not in good.columns:
            good = good.with_columns(until_utc=pl.lit(None, dtype=EVENTS.schema["until_utc"]))
        events = good.with_columns(
            person_id=pl.lit(self.person.person_id), kind=pl.lit(kind), text=self._text(text_column, may_lack=True)
        ).select(EVENTS.schema.keys())
        fresh = events.unique(maintain_order=True)
        self.taken.rows_repeated += events.height - fresh.height
        self.taken.events = pl.concat([self.taken.events, fresh])

    def _weights(self, part: shape.Weight, rows: pl.DataFrame) -> None:
        column = self._column(part.value)
        label = self.table.label(column)
        unit = part.unit if part.unit != "in header" else weight_unit_in(label, self.words)
        if unit is None:
            raise FileWaits(
                "weight_unit_open",
                self.table.file,
                f"nothing says in which unit the weights of column '{label}' are",
                "write kg or lb into the header, or say it in a layout",
                readings=("the weights are kg", "the weights are lb"),
                lines=('unit = "kg"', 'unit = "lb"'),
            )
        scale = KG_PER_LB if unit == "lb" else 1.0
        number = number_expression("value", self._decimal_of(column), self.layout.file.thousands) * scale
        rows = self._with_value(rows, part.value).with_columns(kg=number)
        kg = pl.col("kg")
        code = (
            pl.when(pl.col("value") == "").then(pl.lit("blank"))
            .when(kg.is_null()).then(pl.lit("not_a_number"))
            .when(~kg.is_between(self.settings.least_weight_kg, self.settings.most_weight_kg))
            .then(pl.lit("weight_implausible")).otherwise(pl.lit(""))
        )  # fmt: skip
        a_day = pl.col("no_time").is_in(["no_time_of_day", "no_such_local_time"])
        rows = rows.with_columns(code=code, no_time=pl.when(a_day).then(pl.lit("")).otherwise(pl.col("no_time")))
        good = self._judged(rows, label, unsure_is_bad=False)
        named = good.select(person_id=pl.lit(self.person.person_id), on=pl.col("local").dt.date(), kg=pl.col("kg"))
        weights = pl.concat([self.taken.weights, named]).unique("on", keep="last", maintain_order=True)
        self.taken.rows_repeated += self.taken.weights.height + named.height - weights.height
        self.taken.weights = WEIGHTS.check(weights)
        self.taken.questions += weight_questions(self.taken.weights, self.person, self.settings)

    def _doses(self, part: shape.GlucoseGiven, rows: pl.DataFrame) -> None:
        column = self._column(part.text or part.amount or part.grams)
        rows = self._with_value(rows, part.text or part.amount or part.grams)
        if part.grams:
            number = number_expression("value", self._decimal_of(column), self.layout.file.thousands)
            code = pl.when(number.is_null()).then(pl.lit("not_a_number")).otherwise(pl.lit(""))
            rows = rows.with_columns(code=code, number=number)
            rows = rows.with_columns(
                value=pl.when(pl.col("code") == "").then(pl.format("{} g", "number")).otherwise("value")
            )
        else:
            rows = rows.with_columns(code=pl.lit(""))
        empty = self._text(part.text or part.amount or part.grams) == ""
        kept = pl.col("code") if part.text or not part.source else pl.lit("no_amount")
        named_only = self._text(part.source) != "" if part.source else pl.lit(False)
        rows = rows.with_columns(
            code=pl.when(empty & named_only).then(kept if part.text else pl.lit("")).when(empty).then(pl.lit("blank"))
            .otherwise(pl.col("code"))
        )  # fmt: skip
        good = self._judged(rows, self.table.label(column), unsure_is_bad=False)
        source = self._text(part.source) if part.source else pl.lit(part.source_is)
        picked = good.select(
            ROW, "at_utc", pl.col("at_utc").dt.convert_time_zone(self.person.zone_now().key).dt.date().alias("day"), "value",
            source.alias("source"), self._text(part.form, may_lack=True).alias("form"), self._text(part.note, may_lack=True).alias("note"), "certain",
        )  # fmt: skip
        entries = [
            dose_rows.Entry(row, at, day, value, named, form_named(form, self.words), note, certain)
            for row, at, day, value, named, form, note, certain in picked.iter_rows()
        ]
        self._take_entries(entries, part.remarks_too, "file", self.table.label(column))

    def read_entries(
        self, entries: list[dose_rows.Entry], bad: list[tuple[int, str, str]], lines: int, origin: str = "note"
    ) -> Taken:
        """What the entries of a text note give."""
        self.taken.rows_offered = lines
        self._take_entries(entries, False, origin, "")
        frame = pl.DataFrame(bad, schema={ROW: pl.Int64, "code": pl.String, "found": pl.String}, orient="row")
        self.quarantine.add(frame, "")
        self.taken.quarantine = self.quarantine.in_order
        return self.taken

    def _take_entries(self, entries: list[dose_rows.Entry], remarks_too: bool, origin: str, label: str) -> None:
        taken = dose_rows.take_entries(entries, self.person, self.settings, self.words, origin, remarks_too)
        frame = dose_rows.dose_frame(taken)
        self.taken.questions += dose_rows.dose_questions(taken, frame, self.person)
        self.taken.doses = DOSES.check(pl.concat([self.taken.doses, frame]))
        if taken.events:
            self.taken.events = pl.concat(
                [self.taken.events, dose_rows.event_frame(taken.events).unique(maintain_order=True)]
            )
        bad = pl.DataFrame(taken.bad, schema={ROW: pl.Int64, "code": pl.String, "found": pl.String}, orient="row")
        self.quarantine.add(bad, label)


def _is_total(text: str, totals: tuple[str, ...]) -> bool:
    word = folded(text).rstrip(":. ")
    return any(word == total or word.startswith(total + " ") for total in totals)
