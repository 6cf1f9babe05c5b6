"""One first amount in whole pieces or mL: reaches the target, leaves the low behind, stays under every cap."""

import math
from dataclasses import dataclass
from typing import Final

from gramrise.domain.sources import AmountUnit
from gramrise.report.card.numbers.predictive import Fall, Predictive
from gramrise.report.card.settings import CardSettings

HALVINGS: Final = 24  # of the cap: the amount is found to about a millionth of a gram
# Grams that still count as the same amount: the search's own precision, not a licence to round down.
SAME_GRAMS: Final = 1e-5


@dataclass(frozen=True, slots=True)
class Cap:
    """The most for one first amount, and which rule set it: `weight` | `twenty` | `plan`."""

    grams: float
    code: str


@dataclass(frozen=True, slots=True)
class Step:
    """The least that can be given of a source: one piece, or the mL a cup is read to."""

    unit: AmountUnit
    units: int  # pieces or mL in one step
    grams: float  # anhydrous glucose in one step


@dataclass(frozen=True, slots=True)
class Amount:
    """A cell's amount, or why there is none. `reason` is '' where `units` is a number, and the other way round."""

    units: int | None
    grams: float | None
    look_again: bool  # the cap holds the amount below what the target asks for
    reason: str = ""


def cap_of(weight_kg: float, plan_most_grams: float | None, settings: CardSettings) -> Cap:
    """The lowest of grams per kg, the flat limit and the care plan's own."""
    caps = [Cap(settings.most_grams_per_kg * weight_kg, "weight"), Cap(settings.most_grams, "twenty")]
    if plan_most_grams is not None:
        caps.append(Cap(plan_most_grams, "plan"))
    return min(caps, key=lambda cap: cap.grams)


def wanted_grams(level: Predictive, target_mg_dl: float, cap: Cap, settings: CardSettings) -> float | None:
    """The least grams whose median reaches the target at the top and that leave the low behind; null: over the cap.

    The low must be left behind in the steepest fall the card is for. Both rules are monotone in the grams, so halving
    finds the least amount that meets them.
    """

    steepest = Fall(settings.most_fall_mg_dl_per_min, settings.fall_lasts_minutes)

    def enough(grams: float) -> bool:
        top = level.response.minutes_to_top
        return (
            level.chance_below(target_mg_dl, grams, top) <= 0.5
            and level.chance_below(settings.safe_level_mg_dl, grams, settings.safe_minutes, steepest)
            <= settings.most_chance_below
        )

    if not enough(cap.grams):
        return None
    if enough(0.0):
        return 0.0
    low, high = 0.0, cap.grams
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def at_least(wanted: float | None, least_grams: float | None) -> float | None:
    """The wanted grams raised to the care plan's least; None (over the cap) stays None."""
    return wanted if wanted is None or least_grams is None else max(wanted, least_grams)


def amount_of(wanted: float | None, cap: Cap, step: Step, settings: CardSettings) -> Amount:
    """The wanted grams in whole steps: rounded up, never above the cap; none where one piece is too much."""
    most_steps = math.floor((cap.grams + SAME_GRAMS) / step.grams)
    aim = min(cap.grams if wanted is None else wanted, cap.grams)
    if wanted == 0.0:
        return Amount(None, None, False, "at_target")
    if most_steps < 1:
        return Amount(None, None, False, "piece_over_cap")
    if step.unit is AmountUnit.PIECE and step.grams > aim * (1 + settings.most_piece_over):
        return Amount(None, None, False, "piece_too_much")
    needed = most_steps + 1 if wanted is None else max(1, math.ceil((wanted - SAME_GRAMS) / step.grams))
    steps = min(needed, most_steps)
    return Amount(steps * step.units, steps * step.grams, needed > most_steps)
