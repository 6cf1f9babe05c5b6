"""Sources: forms of glucose with known content, and the grams of anhydrous glucose in an amount of one."""

from dataclasses import dataclass
from enum import StrEnum

from gramrise.domain.problems import WrongUse
from gramrise.domain.units import GLUCOSE_PER_MONOHYDRATE


class Form(StrEnum):
    """How the glucose is taken; it sets how fast it is absorbed."""

    TABLET = "tablet"  # tablets and dextrose candies
    LIQUID = "liquid"
    GEL = "gel"
    UNKNOWN = "unknown"


class StatedAs(StrEnum):
    """What the grams on the label or in the recipe are grams of."""

    ANHYDROUS = "anhydrous"
    MONOHYDRATE = "monohydrate"
    LABEL_CARBOHYDRATE = "label carbohydrate"
    UNKNOWN = "unknown"


class AmountUnit(StrEnum):
    """What an amount counts."""

    PIECE = "piece"
    ML = "mL"
    GRAM = "g"


@dataclass(frozen=True, slots=True)
class Source:
    """One form of glucose a person uses. Exactly one of `grams_per_piece` and `grams_per_ml` is given, as stated."""

    name: str
    form: Form
    grams_per_piece: float | None = None
    grams_per_ml: float | None = None
    stated_as: StatedAs = StatedAs.UNKNOWN
    sealed: bool = True  # shop-bought and closed; home-mixed liquid is not
    other_names: tuple[str, ...] = ()  # what the family writes in the log

    def __post_init__(self) -> None:
        given = [v for v in (self.grams_per_piece, self.grams_per_ml) if v is not None]
        if len(given) != 1 or not given[0] > 0:
            raise WrongUse(
                f"source '{self.name}' needs grams per piece or grams per mL, above zero",
                "state one of the two: 4 g a tablet, or 15 g in 60 mL, which is 0.25 g per mL",
            )

    @property
    def names(self) -> tuple[str, ...]:
        """Its own name and the others that the family writes."""
        return (self.name, *self.other_names)

    @property
    def may_be_weaker(self) -> bool:
        """Nobody said what the printed grams are: monohydrate would hold 9 % less glucose."""
        return self.stated_as is StatedAs.UNKNOWN

    @property
    def unit(self) -> AmountUnit:
        return AmountUnit.PIECE if self.grams_per_piece is not None else AmountUnit.ML

    @property
    def glucose_per_unit_g(self) -> float:
        """Grams of anhydrous glucose in one piece or one mL. Label carbohydrate and unknown are taken as printed."""
        stated = self.grams_per_piece if self.grams_per_piece is not None else self.grams_per_ml
        assert stated is not None  # held by __post_init__
        return stated * (GLUCOSE_PER_MONOHYDRATE if self.stated_as is StatedAs.MONOHYDRATE else 1.0)

    def grams(self, amount: float, unit: AmountUnit) -> float:
        """Grams of anhydrous glucose in `amount` of `unit` (grams: as stated). Raises WrongUse for mL of pieces."""
        if unit is AmountUnit.GRAM:
            return amount * (GLUCOSE_PER_MONOHYDRATE if self.stated_as is StatedAs.MONOHYDRATE else 1.0)
        if unit is not self.unit:
            raise WrongUse(
                f"source '{self.name}' is counted in {self.unit}, not in {unit}", f"write the amount in {self.unit}"
            )
        return amount * self.glucose_per_unit_g
