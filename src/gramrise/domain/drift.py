"""Drift: the change of a band's number since the signed reference, and which persons a panel lists for it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

# What drift says of a band. `moved`: a change of more than 15 % beyond growth, by the rule that holds false alarms of
# weekly reading. `held`: such a change is improbable. `undecided`: neither. `nothing_since`: no used pairing since.
Finding = Literal["moved", "held", "undecided", "nothing_since"]
FINDINGS: Final = ("moved", "held", "undecided", "nothing_since")
# How it moved, as far as the data tell a step from a steady slope; `none` where it did not.
Shape = Literal["step", "slope", "undecided", "none"]
SHAPES: Final = ("step", "slope", "undecided", "none")

# Expected share of false alarms among those that a panel lists.
FALSE_ALARM_SHARE: Final = 0.10


@dataclass(frozen=True, slots=True)
class ReferencePoint:
    """One band's signed number, as far as drift needs it. The level of that day is recomputed with today's model."""

    band: str
    as_of: date  # local date; treatments up to and on it are the reference's
    factor_mg_dl_per_g: float | None = None  # as it was signed; shown beside, never compared with today's model
    weight_kg: float | None = None  # as it was signed; used only where today's weighings give none for that day


def listed_as_moved(probabilities: Sequence[float], share: float = FALSE_ALARM_SHARE) -> tuple[tuple[int, ...], float]:
    """Which of many to list, the most probable first, and the expected share of false alarms among them.

    The list is as long as it may be while the mean of 1 - probability over it stays at most `share` (the Bayesian
    false discovery rate). Of equal probabilities the earlier comes first.
    """
    order = sorted(range(len(probabilities)), key=lambda i: -probabilities[i])
    wrong, listed_n, expected = 0.0, 0, 0.0
    for n, i in enumerate(order, start=1):
        wrong += 1.0 - probabilities[i]
        if wrong / n <= share:
            listed_n, expected = n, wrong / n
    return tuple(order[:listed_n]), expected
