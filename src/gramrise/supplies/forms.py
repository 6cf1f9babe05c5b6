"""The shelf: which form of glucose is good for what. Common practice in families and clinics, no source."""

from dataclasses import dataclass
from typing import Final

from gramrise.domain.sources import Form


@dataclass(frozen=True, slots=True)
class ShelfEntry:
    """One form, when it is of use, and what to mind."""

    form: Form
    good_for: str
    mind: str


SHELF: Final = (
    ShelfEntry(
        Form.TABLET,
        "the pocket, the school tin, sport: pieces of known weight that keep for years",
        "the child chews while awake and sitting or standing still; none under 4 years, hard sweets from 5",
    ),
    ShelfEntry(
        Form.LIQUID,
        "the night: a child who has been woken, sits up and answers",
        "a test sip first; measure in mL by oral syringe or marked cup; rinse the mouth with water afterwards",
    ),
    ShelfEntry(
        Form.GEL,
        "when chewing is hard and swallowing is safe",
        "it must be swallowed; never into the cheek of a drowsy person",
    ),
)
VOMITING: Final = "Vomiting: none of them; call the care team. Unable to swallow: nothing by mouth, glucagon."
