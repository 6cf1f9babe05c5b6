"""A batch of home-mixed glucose liquid as it was made: what was weighed, and how the water was measured."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

from gramrise.domain.problems import WrongUse
from gramrise.domain.units import GLUCOSE_PER_MONOHYDRATE


class Powder(StrEnum):
    """What the bag holds. The usual dextrose powder is the monohydrate."""

    ANHYDROUS = "anhydrous"
    MONOHYDRATE = "monohydrate"

    @property
    def glucose_share(self) -> float:
        """Grams of glucose in a gram of powder."""
        return GLUCOSE_PER_MONOHYDRATE if self is Powder.MONOHYDRATE else 1.0


class WaterBy(StrEnum):
    """How the water was measured: two recipes with the same numbers differ by a fifth in strength."""

    MADE_UP_TO = "made up to"  # water was added until the mixture reached the line
    ADDED_TO = "added to"  # so much water was poured onto the powder


# Our choice, g and mL: a large pot; more is a slip of the pen.
MOST: Final = 20_000.0


@dataclass(frozen=True, slots=True)
class Mixture:
    """What went into one bottle."""

    powder: Powder
    powder_g: float
    water_by: WaterBy
    ml: float  # the line the mixture was made up to, or the water that was added
    weighed_g: float | None = None  # the finished mixture on the scale, without the bottle; None: not weighed
    citric_acid_mg: float = 0.0
    ascorbic_acid_mg: float = 0.0

    def __post_init__(self) -> None:
        if not (self.powder_g > 0 and self.ml > 0):
            raise WrongUse("powder and water must both be above zero", "write grams of powder and mL of water")
        if not (self.powder_g <= MOST and self.ml <= MOST):
            raise WrongUse("no kitchen mixes so much at once", f"look at the numbers: at most {MOST:,.0f} g and mL")
        if self.weighed_g is not None and not 0 < self.weighed_g <= 2 * MOST:
            raise WrongUse("the weight of the mixture must be above zero", "weigh it without the bottle")
        if self.citric_acid_mg < 0 or self.ascorbic_acid_mg < 0:
            raise WrongUse("acid cannot be below zero", "write the milligrams that went in, or leave it out")

    @property
    def glucose_g(self) -> float:
        """Grams of anhydrous glucose in the bottle."""
        return self.powder_g * self.powder.glucose_share


@dataclass(frozen=True, slots=True)
class MixedBatch:
    """One logged bottle of a source: what is taken from that source comes from it until the next one is mixed."""

    person_id: str
    number: int  # 1, 2, ... of this person
    source: str
    mixed_at_utc: datetime
    mixture: Mixture
    strength_g_per_ml: float | None  # null: scale and line disagree, so that nobody knows it
