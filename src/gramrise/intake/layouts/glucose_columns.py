"""Tables with more than one column of glucose: the same values in two units, or columns that take turns."""

import polars as pl

from gramrise.connectors.layout import Glucose, Part
from gramrise.domain.units import MG_DL_PER_MMOL_L
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable

# How far two columns may differ where they are the same values in two units: one of them is rounded to 0.1 mmol/L.
ROUNDING_MG_DL = 1.5


def one_column_a_kind(table: TextTable, parts: list[Part], evidence: Evidence) -> list[Part]:
    """The parts. Where two glucose columns of one kind state the same values, one is left; else both stay open."""
    kept: list[Part] = []
    for part in parts:
        rival = next((one for one in kept if isinstance(one, Glucose) and _alike(one, part)), None)
        if rival is None or not isinstance(part, Glucose):
            kept.append(part)
            continue
        first, second = _numbers(table, rival.value), _numbers(table, part.value)
        both = first.is_not_null() & second.is_not_null()
        if not both.any():
            kept.append(part)  # they take turns: each row fills one
        elif _same_values(first.filter(both), second.filter(both)):
            evidence.prove(f"'{part.value}' says the same as '{rival.value}'", "every row has both, in two units")
        else:
            evidence.open.append(OpenPoint(
                "glucose_columns_open", f"'{rival.value}' and '{part.value}' both hold glucose, and not the same",
                "say in a layout which is whose",
                (f"'{rival.value}' is the sensor's", f"'{part.value}' is the sensor's"),
                (f'value = "{rival.value}"', f'value = "{part.value}"'),
            ))  # fmt: skip
            kept.append(part)
    return kept


def _alike(one: Glucose, other: Part) -> bool:
    return isinstance(other, Glucose) and (one.kind, one.when) == (other.kind, other.when)


def _numbers(table: TextTable, name: str) -> pl.Series:
    column = table.column(name)
    assert column is not None  # both come from the table's own columns
    cells = table.cells[column].str.strip_chars().str.replace(",", ".", literal=True)
    return cells.cast(pl.Float64, strict=False)


def _same_values(first: pl.Series, second: pl.Series) -> bool:
    """Whether one column is the other in the other unit."""
    apart = (first - second * MG_DL_PER_MMOL_L).abs().max(), (second - first * MG_DL_PER_MMOL_L).abs().max()
    return any(isinstance(most, float) and most <= ROUNDING_MG_DL for most in apart)
