"""Glucose values of a table: readings of a sensor, or finger-sticks."""

import polars as pl

from gramrise.connectors.layout import Glucose
from gramrise.domain.frames import FINGERS, READINGS
from gramrise.intake.cells import glucose_values
from gramrise.intake.files import ROW
from gramrise.intake.problems import FileWaits
from gramrise.intake.rows.table_rows import TableRows

# Our choice: single rows are set aside; so many are another person's, or another sensor's.
_MANY_ROWS, _MANY_SHARE = 10, 0.1


def glucose_rows(rows: TableRows, part: Glucose) -> tuple[pl.DataFrame, int]:
    """READINGS or FINGERS of a table, in the order of its rows, one an instant; and how many rows repeat another."""
    context, contract = rows.context, READINGS if part.kind == "readings" else FINGERS
    beside = rows.text(part.unit_column, may_lack=True)
    cells = rows.of_part(part).with_columns(value=rows.text(part.value), unit_beside=beside)
    values = glucose_values(cells, part, rows.layout.file, context.settings, context.words)
    if part.kind == "fingers":
        other = rows.code_of_another()
        values = values.with_columns(code=pl.when(pl.col("code") == "").then(other).otherwise(pl.col("code")))
    good = rows.screen(values, rows.label(part.value), unsure_is_bad=True)
    kept, repeated = _one_an_instant(rows, good, rows.label(part.value))
    named = kept.with_columns(person_id=pl.lit(context.person.person_id))
    return named.select(contract.schema.keys()), repeated


def _one_an_instant(rows: TableRows, good: pl.DataFrame, label: str) -> tuple[pl.DataFrame, int]:
    """The first row of each instant, and how many equal ones follow; unequal ones are set aside."""
    steps = good["at_utc"].to_physical().diff().drop_nulls()
    if (steps > 0).all() or (steps < 0).all():
        return good, 0
    first = good["at_utc"].is_first_distinct()
    kept, again = good.filter(first), good.filter(~first)
    if again.height == 0:
        return good, 0
    values = kept.select("at_utc", first_value="glucose_mg_dl", first_range="range")
    both = again.join(values, on="at_utc", how="left", maintain_order="left")
    same = (pl.col("glucose_mg_dl") == pl.col("first_value")) & (pl.col("range") == pl.col("first_range"))
    unequal = both.filter(~same)
    if unequal.height >= _MANY_ROWS and unequal.height >= _MANY_SHARE * good.height:
        raise FileWaits(
            "two_values_often", rows.table.file,
            f"{unequal.height} rows of '{label}' give another value for an instant that has one: whose are they",
            "leave only one person's (or one sensor's) rows in the file",
        )  # fmt: skip
    rows.quarantine.add(unequal.select(ROW, code=pl.lit("two_values"), found="value"), label)
    return kept, both.filter(same).height
