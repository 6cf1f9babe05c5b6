"""What a table's columns hold: a layout at hand that fits, or what header and cells prove."""

from gramrise.intake.layouts.column_profiles import MOST_EXAMPLES
from gramrise.intake.layouts.drafting import draft_of
from gramrise.intake.layouts.matching import check_named, fits
from gramrise.intake.layouts.recognition import proved_layout, recognise_layout
from gramrise.intake.layouts.resolving import columns_with_values, number_columns
from gramrise.intake.layouts.row_checks import contradicted_rows, without_rows
from gramrise.intake.layouts.table_checks import check_table

__all__ = [
    "MOST_EXAMPLES",
    "check_named",
    "check_table",
    "columns_with_values",
    "contradicted_rows",
    "draft_of",
    "fits",
    "number_columns",
    "proved_layout",
    "recognise_layout",
    "without_rows",
]
