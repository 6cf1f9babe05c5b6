"""Whether so many grams of glucose at once are likely: one rule for what is typed, what files hold, and answers."""

from typing import Final

from gramrise.intake.settings import IntakeSettings

# Set aside: a slip of the pen is likelier.
AMOUNT_REFUSED: Final = "amount_implausible"
# Asked about: more than one treatment holds.
AMOUNT_LARGE: Final = "amount_large"


def doubt_of_size(grams: float, kg: float | None, settings: IntakeSettings) -> str:
    """AMOUNT_REFUSED, AMOUNT_LARGE, or "" for an amount given at once.

    grams  of glucose
    kg     body weight of that day; where none is known nothing is large, as nobody knows for whom
    """
    if grams > settings.most_grams_in_one_dose:
        return AMOUNT_REFUSED
    return AMOUNT_LARGE if kg is not None and grams > settings.most_grams_per_kg_in_one_dose * kg else ""
