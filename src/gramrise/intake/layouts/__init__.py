"""What a table's columns hold: a layout at hand that fits, or what header and cells prove."""

from gramrise.intake.layouts.drafting import draft_of
from gramrise.intake.layouts.matching import check_named, fits
from gramrise.intake.layouts.recognition import proved_layout, recognise_layout

__all__ = [
    "check_named",
    "draft_of",
    "fits",
    "proved_layout",
    "recognise_layout",
]
