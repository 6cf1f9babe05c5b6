"""The rows of one table as each kind is read from them: their text, their times, and which of them are set aside."""

from collections.abc import Sequence

import polars as pl

from gramrise.connectors.layout import Clock, Layout, Part
from gramrise.intake.cells import BEHIND, number_expression, read_times
from gramrise.intake.context import ReadContext
from gramrise.intake.files import ROW, TextTable, is_empty
from gramrise.intake.labels import read_label
from gramrise.intake.problems import FileRefused
from gramrise.intake.rows.broken_lines import BrokenLines
from gramrise.intake.rows.entry_rows import entry_rows_of
from gramrise.intake.rows.other_persons import denies_its_row, speaks_of_another
from gramrise.intake.rows.quarantine import Quarantine, bad_rows
from gramrise.intake.rows.remarks_beside import names_another_amount, names_another_time
from gramrise.intake.words import folded

_BLANK, _USED = "blank", "used"


class TableRows:
    """The entries of a table under a layout whose open entries are resolved.

    frame     `row`, the table's text columns, those of `read_times`, and `status`: blank until a kind uses the row
    offered   rows with anything in them, and the bad lines
    last_utc  epoch microseconds of the last instant, for the block of the file that follows
    """

    def __init__(
        self,
        table: TextTable,
        layout: Layout,
        context: ReadContext,
        before_utc: int | None = None,
        bad_lines: Sequence[tuple[int, str, str]] = (),
    ) -> None:
        assert layout.clock is not None  # a layout of tables has one
        self.layout, self.context = layout, context
        self.clock: Clock = layout.clock
        entries = entry_rows_of(table, layout.file.total_words, context.words)
        self.table = table.with_cells(entries.cells)
        self.quarantine = Quarantine(self.table, context.settings)
        self.quarantine.add(entries.bad, "")
        self.quarantine.add(bad_rows(list(bad_lines)), "")
        self.offered = entries.offered + len(bad_lines)
        self.last_utc: int | None = None
        self.frame = pl.DataFrame()
        self._not_entries = entries.passed_over
        if entries.cells.height:
            times = read_times(self.table, self.clock, context, before_utc)
            self.last_utc = times.last_utc
            self.frame = pl.concat([self.table.cells, times.frame], how="horizontal").with_columns(
                status=pl.lit(_BLANK)
            )
            self._set_aside_broken([row for row, code, _ in entries.bad.iter_rows() if code == "cut_off"])

    @property
    def used_rows(self) -> pl.Series:
        """Line numbers of the entries that some kind has used, good ones and bad."""
        if not self.frame.height:
            return pl.Series(ROW, [], dtype=pl.Int64)
        return self.frame.filter(pl.col("status") == _USED)[ROW]

    @property
    def passed_over(self) -> int:
        """Rows that are no entries, and entries that no kind has used so far."""
        unused = int((self.frame["status"] == _BLANK).sum()) if self.frame.height else 0
        return self._not_entries + unused

    def _set_aside_broken(self, cut_off: list[int]) -> None:
        """Sets aside what a line break within a row left behind, before any value is read."""
        broken = BrokenLines(self.table, self.layout, self.context).found(self.frame, cut_off)
        if broken:
            self.quarantine.add(bad_rows(broken), "")
            self.frame = self.frame.filter(~pl.col(ROW).is_in([row for row, _, _ in broken]))

    # -- text of the columns that a layout names ---------------------------------------------------------------------

    def column(self, name: str) -> str:
        """The frame's column for a name of the layout."""
        column = self.table.column(name)
        if column is None:
            raise FileRefused("column_missing", self.table.file, f"it has no column '{name}'", "look at its header row")
        return column

    def label(self, name: str) -> str:
        """What people call a column of the layout."""
        return self.table.label(self.column(name))

    def text(self, name: str, *, may_lack: bool = False) -> pl.Expr:
        """A column's cells, trimmed; '' where the layout names none, or the table may lack it and does."""
        if not name or (may_lack and self.table.column(name) is None):
            return pl.lit("")
        return pl.col(self.column(name)).fill_null("").str.strip_chars()

    def of_part(self, part: Part) -> pl.DataFrame:
        """The rows of the frame that a part of the layout is meant for."""
        if part.when is None:
            return self.frame
        text = self.frame.select(self.text(part.when.column).alias("w"))["w"]
        if not part.when.words:
            return self.frame.filter(text != "")
        wanted = {folded(word) for word in part.when.words}
        fitting = [entry for entry in text.unique().to_list() if folded(entry) in wanted]
        return self.frame.filter(text.is_in(fitting))

    def numbers(self, part: Part, name: str, unit: str) -> pl.DataFrame:
        """A part's rows with a column's trimmed text as `value`, and as f64 `number` without its unit.

        unit  '' or a key of BEHIND
        """
        rows = self.of_part(part).with_columns(value=self.text(name))
        plain = pl.col("value").str.replace(BEHIND[unit], "") if unit else pl.col("value")
        number = number_expression("plain", self.layout.file.decimal, self.layout.file.thousands)
        return rows.with_columns(plain=plain).with_columns(number=number).drop("plain")

    def with_remarks_heeded(
        self, rows: pl.DataFrame, *, of_sensor: bool = False, of_amounts: bool = False
    ) -> pl.DataFrame:
        """Rows with `code`, good ones set aside by their remarks: 'row_denied', or 'another_person' ('for Mia').

        of_amounts the rows are glucose given: a remark of another amount or time, 'ate only 1', sets them aside, too
        of_sensor  the rows are a sensor's own: whatever is told of others, they were measured on this person
        """
        for at, cell in enumerate(self.table.header[: self.table.width]):
            if "note" not in read_label(cell, self.context.words).meanings or is_empty(rows[str(at)]):
                continue
            texts = rows[str(at)].unique().drop_nulls().to_list()
            named = [] if of_sensor else [text for text in texts if speaks_of_another(text, self.context)]
            denied = [text for text in texts if denies_its_row(text, self.context, given=not of_sensor)]
            other = [text for text in texts if of_amounts and names_another_amount(text, self.context)]
            times = [text for text in texts if of_amounts and names_another_time(text, self.context)]
            for code, words in (
                ("another_person", named),
                ("row_denied", denied),
                ("remark_other_amount", other),
                ("remark_other_time", times),
            ):
                if words:
                    bad = pl.col(str(at)).is_in(words) & (pl.col("code") == "")
                    rows = rows.with_columns(code=pl.when(bad).then(pl.lit(code)).otherwise(pl.col("code")))
        return rows

    # -- what is kept and what is set aside --------------------------------------------------------------------------

    def screen(self, rows: pl.DataFrame, label: str, *, unsure_is_bad: bool = False) -> pl.DataFrame:
        """The good rows; bad ones go into the quarantine, and a row with code 'blank' is neither.

        rows           rows of the frame with `value` and `code`: '' good, 'blank', or a key of TROUBLES
        label          what people call the column of the values
        unsure_is_bad  a time in a repeated hour that nothing places is set aside, too
        """
        sound = (pl.col("code") == "").all() & (pl.col("no_time") == "").all()
        if rows.height and rows.select(sound & pl.col("certain").all()).item():
            self._mark_used(rows)
            return rows
        filled = rows.filter(pl.col("code") != "blank")
        if unsure_is_bad:
            unsure = (pl.col("no_time") == "") & ~pl.col("certain")
            filled = filled.with_columns(
                no_time=pl.when(unsure).then(pl.lit("time_ambiguous")).otherwise(pl.col("no_time"))
            )
        self._set_aside(filled, label)
        self._mark_used(filled)
        return filled.filter((pl.col("no_time") == "") & (pl.col("code") == ""))

    def _set_aside(self, filled: pl.DataFrame, label: str) -> None:
        """Rows without a usable time, once for the whole table; then those whose value cannot be used."""
        named = pl.DataFrame({ROW: pl.Series(ROW, [one.trouble.row for one in self.quarantine.rows], dtype=pl.Int64)})
        bad_time = filled.filter(pl.col("no_time") != "").join(named, on=ROW, how="anti")
        time_label = " ".join(self.label(name) for name in self.clock.columns)
        self.quarantine.add(bad_time.select(ROW, code="no_time", found="time_text"), time_label)
        bad_value = filled.filter((pl.col("no_time") == "") & (pl.col("code") != ""))
        self.quarantine.add(bad_value.select(ROW, "code", found="value"), label)

    def _mark_used(self, rows: pl.DataFrame) -> None:
        if rows.height == self.frame.height:
            self.frame = self.frame.with_columns(status=pl.lit(_USED))
        elif rows.height:
            used = self.frame[ROW].is_in(rows[ROW].implode())
            self.frame = self.frame.with_columns(status=pl.when(used).then(pl.lit(_USED)).otherwise(pl.col("status")))
