"""What one first amount does over time: the share of its rise by the minute, from the estimate's shape of the rise."""

from dataclasses import dataclass

import numpy as np

from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.estimate.shape import RiseCurve


@dataclass(frozen=True, slots=True)
class Response:
    """Shares of the peak rise minute by minute from swallowing, and how the rise grows with the grams.

    The rise factor is that of the reference amount, 0.15 g/kg; grams enter as effective grams, equal to the grams at
    the reference amount and growing with their power `exponent` (1: proportional).
    """

    blood: tuple[float, ...]  # share of the blood's peak, for what is true
    shown: tuple[float, ...]  # the same as the sensor shows it, for what will be read
    reference_grams: float
    exponent: float

    def share(self, minutes: float) -> float:
        """Share of the peak rise the blood has reached."""
        return float(np.interp(minutes, np.arange(len(self.blood)), self.blood))

    def share_shown(self, minutes: float) -> float:
        """Share of the peak rise the sensor shows."""
        return float(np.interp(minutes, np.arange(len(self.shown)), self.shown))

    @property
    def minutes_to_top(self) -> int:
        """Minutes from swallowing until the blood's rise is greatest."""
        return int(np.argmax(self.blood))

    @property
    def minutes_to_top_shown(self) -> int:
        """Minutes until the sensor shows the greatest rise."""
        return int(np.argmax(self.shown))

    def effective_grams(self, grams: float) -> float:
        """Grams of the reference size that raise as much as `grams` >= 0 do."""
        return float(self.reference_grams * (grams / self.reference_grams) ** self.exponent)


def response_of(curve: RiseCurve, weight_kg: float, exponent: float) -> Response:
    """The response of a person of `weight_kg` to a form whose rise follows `curve`."""
    return Response(
        tuple(curve.blood.tolist()), tuple(curve.shown.tolist()), REFERENCE_GRAMS_PER_KG * weight_kg, exponent
    )
