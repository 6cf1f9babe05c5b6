"""Single cells and columns of cells: numbers, glucose values, amounts, times."""

from gramrise.intake.cells.amount_tokens import LEFT as LEFT_OVER
from gramrise.intake.cells.amounts import (
    Given,
    ReadAmount,
    dose_unit_named,
    form_named,
    heading_denies,
    of_another,
    of_source,
    product_named,
    read_amount,
    source_named,
)
from gramrise.intake.cells.beside_amounts import noticed_by, noticed_named, who_noticed
from gramrise.intake.cells.clock_changes import place
from gramrise.intake.cells.glucose_cells import glucose_values
from gramrise.intake.cells.numbers import number_expression, read_number
from gramrise.intake.cells.time_cells import time_text
from gramrise.intake.cells.time_columns import bare_among_offsets, dated_zones, offset_minutes, read_times
from gramrise.intake.cells.unit_suffixes import ANY_UNIT_BEHIND, BEHIND, UNIT_BEHIND
from gramrise.intake.cells.written_spans import doubtful_offset
from gramrise.intake.cells.written_times import DateStyle, possible_days, read_day, read_written_time

__all__ = [
    "ANY_UNIT_BEHIND",
    "BEHIND",
    "LEFT_OVER",
    "UNIT_BEHIND",
    "DateStyle",
    "Given",
    "ReadAmount",
    "bare_among_offsets",
    "dated_zones",
    "dose_unit_named",
    "doubtful_offset",
    "form_named",
    "glucose_values",
    "heading_denies",
    "noticed_by",
    "noticed_named",
    "number_expression",
    "of_another",
    "of_source",
    "offset_minutes",
    "place",
    "possible_days",
    "product_named",
    "read_amount",
    "read_day",
    "read_number",
    "read_times",
    "read_written_time",
    "source_named",
    "time_text",
    "who_noticed",
]
