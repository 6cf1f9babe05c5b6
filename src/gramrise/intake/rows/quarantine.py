"""What can be wrong with one row: a fixed code, its meaning, and how to mend it; and the quarantine of a table."""

from dataclasses import dataclass, field
from typing import Final

import polars as pl

from gramrise.domain.batch import Quarantined
from gramrise.domain.problems import Trouble
from gramrise.intake.files import ROW, TextTable
from gramrise.intake.problems import FileRefused, FileTrouble, FileWaits
from gramrise.intake.settings import IntakeSettings

TROUBLES: Final[dict[str, tuple[str, str]]] = {
    "no_time": ("the row has no time", "write when it was"),
    "not_a_time": ("this is no time in the way this file writes times", "write it as the rows around it do"),
    "no_time_of_day": ("this is a day without a time of day", "add the hour and minute"),
    "day_open": (
        "its day is not written, and its time turns back from the row above, so it may be of the next day",
        "write the day into the row",
    ),
    "weekday_contradicts": (
        "the weekday that stands there is not the weekday of the date",
        "look which of the two is right, and write the day when it was",
    ),
    "half_day_missing": (
        "other rows say am or pm, and this one does not",
        "write am or pm behind its time, or the time on the clock of 24 hours",
    ),
    "offset_missing": (
        "other rows write their offset from UTC, and this one does not",
        "write the offset behind its time as the rows around it do, as +02:00, or Z for UTC",
    ),
    "no_such_local_time": (
        "the clock was put forward over this time, so it never was",
        "write the time that the clock showed, or add the offset from UTC",
    ),
    "time_out_of_range": (
        "this time is in the future, or before the birth or any log",
        "look at the year, and at the birth date: gramrise person list",
    ),
    "time_ambiguous": (
        "the clock was put back that night and this hour came twice; nothing tells which it was",
        "write the offset from UTC behind the time, as +02:00",
    ),
    "no_kind": ("nothing says what this row is, for its kind is blank", "write its kind as the rows around it do"),
    "not_a_number": ("this is no number", "write the number alone, in the way the rows around it do"),
    "glucose_implausible": ("no glucose value is like this", "look at the number and at the unit of the column"),
    "two_values": (
        "another row of this file gives another value for the same instant",
        "keep the right one of the two",
    ),
    "unit_unread": ("glucose is not counted in this unit", "write pieces, mL or g beside the amount"),
    "two_weights": ("another row of this file gives another weight for the same day", "keep the right one of the two"),
    "amount_implausible": ("so much at once is not likely", "look at the number and its unit"),
    "amounts_too_many": (
        "so many amounts stand in one line or one minute that they cannot all have been given",
        "write each amount once, with its own time",
    ),
    "amount_contradicts": (
        "another amount of the same minute stands further up in the file",
        "leave the one that is right; where both were given, write them line under line",
    ),
    "remark_other_amount": (
        "a remark names another amount than the row",
        "write in the row how much was given, and take the remark out",
    ),
    "remark_other_time": (
        "a remark names another time than the row",
        "write in the row when it was given, and take the remark out",
    ),
    "row_denied": (
        "a remark says that the row does not count",
        "take the row out; where it is right, take the remark out",
    ),
    "another_person": (
        "its words may speak of another person's glucose",
        "keep each person's log in a file of their own; where it is this person's, leave the name out",
    ),
    "amount_negative": (
        "less than nothing cannot be given",
        "write how much was given; what was taken back, leave out",
    ),
    "amount_zero": ("nothing was given", "leave the row out, or write the amount"),
    "no_amount": ("no amount is written", "write how much it was"),
    "count_not_given": (
        "this says what is left or was bought, not what was given",
        "write what was given; what is left is logged with gramrise count CONTAINER --left NUMBER",
    ),
    "insulin_named": (
        "this is insulin, and a note or `give` logs only glucose given; nothing of it was logged",
        "bring insulin in a table with the columns time and units; glucose is written as 3 pieces or 4 g",
    ),
    "weight_implausible": ("no body weight is like this", "look at the number and at the unit of the column"),
    "formula": ("this is a formula, not what somebody wrote", "write the value itself"),
    "two_times": ("the line has two times", "write the one at which it was given: 02:10 3 pieces"),
    "under_heading": (
        "a line above it says, or may say, that what follows was not given",
        "write what was given below a blank line, or without that line",
    ),
    "no_entry": ("the line does not begin with a time", "write one line an entry: 02:10 3 pieces"),
    "other_day": (
        "its words name another day than its time, and glucose is logged once it is given",
        "write the date on a line of its own above it: 2026-03-14, then 02:10 3 pieces",
    ),
    "no_year": ("the date of the line has no year", "write it with its year: 2026-03-14 02:10 3 pieces"),
    "after_unread": (
        "a line above it could not be read, so it may be of another day than the lines before that",
        "mend that line, or write the date on a line of its own above this one",
    ),
    "no_date": ("nothing says which day this was", "write the date on a line of its own above: 2026-03-14"),
    "part_of_day": (
        "the words and the clock time do not say for certain which half of the day it was",
        "write the time on the clock of 24 hours, as 18:30, and leave the word out",
    ),
    "zone_open": (
        "the zone behind the time is not known for certain, or no date says when it held",
        "write the date, and the offset from UTC behind the time, as 2026-03-14 18:30+01:00",
    ),
    "note_order": (
        "this time is earlier than that of the line before, so the day is open",
        "write the date of the new day on a line above it",
    ),
    "not_an_object": ("this is no JSON object with a time and values", "write one object an entry"),
    "quotes_broken": (
        "a quotation mark in the line has no partner",
        "take it out, or write its partner; the lines below were read",
    ),
    "in_no_table": ("the line stands below the table and belongs to none", "put it among the rows of its table"),
    "cut_off": (
        "the last row ends sooner than the rows above it, so what stands in it may be half of what was written",
        "export the file again; where the row is right, end it as the rows above end",
    ),
    "line_broken": (
        "a line beside it has no time and may be part of this row, so this may be half of what was written",
        "write the row on one line; where both lines are right, leave a blank line between them",
    ),
    "uncut": (
        "the line is one cell where the table has more, so what is no time in it was not read",
        "write the row as its neighbours are written, without quotation marks around the whole line",
    ),
    "too_many_cells": ("the row has more cells than the header", "put text that holds the delimiter in quotes"),
}


def times_outside(file: str, rows: int, whole: int | None) -> FileWaits:
    """What is said of a file of so many rows whose times cannot be that not each of them is named.

    whole  how many rows it has; None where not all of it has been read
    """
    return FileWaits(
        "times_ahead",
        file,
        f"the times of {rows} of its rows are in the future, or before the birth; nothing of it was taken in"
        if whole is None
        else f"the times of {rows} of its {whole} rows are in the future, or before the birth; "
        "nothing of it was taken in",
        "look at this machine's date and time, at the birth date (gramrise person list), and at how the file writes "
        "its days; where all are right, leave these rows out of the file",
    )


def bad_rows(rows: list[tuple[int, str, str]]) -> pl.DataFrame:
    """Bad rows as (row, code, found), as the frame that a quarantine takes."""
    return pl.DataFrame(rows, schema={ROW: pl.Int64, "code": pl.String, "found": pl.String}, orient="row")


@dataclass(slots=True)
class Quarantine:
    """Collects the bad rows of one table, each with its text and the trouble that names place and mend."""

    table: TextTable
    settings: IntakeSettings
    rows: list[Quarantined] = field(default_factory=list)

    def add(self, bad: pl.DataFrame, column: str) -> None:
        """Rows with `row`, `code` and `found`; `column` as people call it."""
        if len(self.rows) + bad.height > self.settings.most_troubles_named:
            raise self._too_many(bad)
        for row, code, found in bad.select(ROW, "code", "found").iter_rows():
            what, mend = TROUBLES[code]
            trouble = Trouble(code, self.table.file, row, column, (found or "")[:80], what, mend)
            self.rows.append(Quarantined(trouble, self.table.text_of(row)[:500]))

    def _too_many(self, bad: pl.DataFrame) -> FileTrouble:
        """What to say of a file of which so many rows are bad: most often their times alone are."""
        outside = int((bad["code"] == "time_out_of_range").sum())
        outside += sum(one.trouble.code == "time_out_of_range" for one in self.rows)
        if 2 * outside > len(self.rows) + bad.height:
            return times_outside(self.table.file, outside, None if self.table.goes_on else self.table.cells.height)
        return FileRefused(
            "too_many_troubles",
            self.table.file,
            f"more than {self.settings.most_troubles_named} rows cannot be read, the first in row {bad[ROW][0]}",
            "the layout probably does not fit: see it with 'gramrise layouts FILE'",
        )

    @property
    def in_order(self) -> tuple[Quarantined, ...]:
        """What was set aside, in the order of the file."""
        return tuple(sorted(self.rows, key=lambda one: (one.trouble.row or 0, one.trouble.column)))
