"""Glucose in water: density, volume and strength of a solution by its mass, and back."""

from bisect import bisect_right
from typing import Final

# Density of aqueous D-glucose at 20 C, g/mL, by mass percent. Source: CRC Handbook of Chemistry and Physics,
# Concentrative Properties of Aqueous Solutions; recalled, and checked for smooth slopes and even molar volumes.
DENSITY_20C: Final = (
    (0.0, 0.9982), (0.5, 1.0001), (1.0, 1.0020), (2.0, 1.0058), (3.0, 1.0097), (4.0, 1.0136), (5.0, 1.0175),
    (6.0, 1.0214), (7.0, 1.0254), (8.0, 1.0294), (9.0, 1.0334), (10.0, 1.0375), (12.0, 1.0457), (14.0, 1.0540),
    (16.0, 1.0624), (18.0, 1.0710), (20.0, 1.0797), (22.0, 1.0884), (24.0, 1.0973), (26.0, 1.1063), (28.0, 1.1154),
    (30.0, 1.1246), (32.0, 1.1340), (34.0, 1.1434), (36.0, 1.1529), (38.0, 1.1626), (40.0, 1.1724), (42.0, 1.1823),
    (44.0, 1.1924), (46.0, 1.2026), (48.0, 1.2130), (50.0, 1.2235), (52.0, 1.2342), (54.0, 1.2451), (56.0, 1.2562),
    (58.0, 1.2676), (60.0, 1.2793),
)  # fmt: skip
WATER_G_PER_ML: Final = DENSITY_20C[0][1]
# The end of the table; stronger than anything that stays dissolved in a room.
MOST_MASS_PERCENT: Final = DENSITY_20C[-1][0]


def density_g_per_ml(mass_percent: float) -> float:
    """Density at 20 C by linear interpolation of the table. Raises ValueError outside 0 to 60 % by mass."""
    if not 0 <= mass_percent <= MOST_MASS_PERCENT:
        raise ValueError(f"{mass_percent:.1f} % glucose by mass is outside the table of 0 to {MOST_MASS_PERCENT:.0f} %")
    at = min(bisect_right(DENSITY_20C, mass_percent, key=lambda row: row[0]), len(DENSITY_20C) - 1)
    (low, low_density), (high, high_density) = DENSITY_20C[at - 1], DENSITY_20C[at]
    return low_density + (high_density - low_density) * (mass_percent - low) / (high - low)


def strength_g_per_ml(mass_percent: float) -> float:
    """Grams of glucose in one mL of a solution of so many percent by mass."""
    return mass_percent / 100 * density_g_per_ml(mass_percent)


def mass_percent_of(strength: float) -> float:
    """Percent by mass of a solution of `strength` g of glucose per mL. Raises ValueError beyond 60 % by mass."""
    if not 0 <= strength <= strength_g_per_ml(MOST_MASS_PERCENT):
        raise ValueError(f"{strength:.3f} g per mL is outside the table")
    low, high = 0.0, MOST_MASS_PERCENT
    for _ in range(60):  # strength grows with mass percent, so halving the interval finds it
        middle = (low + high) / 2
        low, high = (middle, high) if strength_g_per_ml(middle) < strength else (low, middle)
    return (low + high) / 2
