"""What one first amount does to the readings over time, from the estimate's shape of the rise."""

from dataclasses import dataclass

import numpy as np

from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.estimate import RiseShape, expected_rise


@dataclass(frozen=True, slots=True)
class Response:
    """What the sensor is expected to show per unit of factor, minute by minute from swallowing.

    Single treatments are faster or slower than their form, so the mean of them peaks a little below 1. The factor is
    that of the reference amount, 0.15 g/kg; grams enter as effective grams, equal to the grams at the reference
    amount and growing with their power `exponent` (1: proportional).
    """

    shares: tuple[float, ...]
    reference_grams: float
    exponent: float

    def share(self, minutes: float) -> float:
        """Share of factor x effective grams that shows so many minutes after swallowing."""
        return float(np.interp(minutes, np.arange(len(self.shares)), self.shares))

    @property
    def minutes_to_top(self) -> int:
        """Minutes from swallowing until the greatest rise shows."""
        return int(np.argmax(self.shares))

    def effective_grams(self, grams: float) -> float:
        """Grams of the reference size that raise as much as `grams` >= 0 do."""
        return float(self.reference_grams * (grams / self.reference_grams) ** self.exponent)


def response_of(shape: RiseShape, weight_kg: float, exponent: float) -> Response:
    """The response of a person of `weight_kg` to a form of that shape."""
    shares = expected_rise(np.array(shape.gut_min), np.array(shape.disposal_per_min), np.array(shape.lag_min))
    return Response(tuple(shares.tolist()), REFERENCE_GRAMS_PER_KG * weight_kg, exponent)
