"""Glucose, insulin action, gut and tissue of the third physiology. Minutes, mg/dL, U, g.

    G' = H / (1 + a) + c - u (1 + s a) G / (Km + G) + 1000 Ra / (V kg) + drive
    a  insulin action, 1 at the basal rate: three transit compartments, then a lag
    c  counter-regulation below a threshold, with a lag
    q' = -most q / (half + q): the stomach empties at a bounded rate; Ra = rate x what lies in the gut
    sensor: tissue glucose behind two lags

Magnitudes are those of textbooks (hepatic output about 2 mg/kg per min, volume 1.6-1.9 dL/kg), from memory; the form is
our own choice, so that it agrees with neither of the other two. Each minute is two Euler steps.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

STATES_N = 13
GLUCOSE, TISSUE, SHOWN, ACTION, COUNTER, STOMACH, GUT = 0, 1, 2, 6, 7, 8, 9
HALF_STEPS = 2
# Share of a meal's carbohydrate that raises the level: 245 mg/dL x kg per g, the published middle for glucose, of what
# the volume alone would give.
FOOD_AT_WORK = 0.43


class Body(NamedTuple):
    """One person."""

    resting: float  # mg/dL at the basal rate
    hepatic: float  # mg/dL per min without insulin action
    half_uptake: float  # mg/dL at which uptake is half of its most
    insulin_on_uptake: float
    transit_min: float  # of each insulin compartment
    action_min: float
    counter_below: float
    counter_per_min: float
    counter_min: float
    volume_dl_kg: float
    stomach_most_g_min: float
    stomach_half_g: float
    gut_per_min: float
    meal_min: float  # of each of three meal compartments
    tissue_min: float
    device_min: float
    basal_u_min: float


@njit(cache=True)
def at_rest(b: Body) -> np.ndarray:
    s = np.zeros(STATES_N)
    s[GLUCOSE] = s[TISSUE] = s[SHOWN] = b.resting
    s[3] = s[4] = s[5] = s[ACTION] = 1.0
    return s


@njit(cache=True)
def minute_on(
    s: np.ndarray, b: Body, kg: float, insulin_u: float, food_g: float, glucose_g: float, drive: float
) -> None:
    """One minute, in place. Insulin of this minute counts in basal rates, so that the basal rate alone gives 1."""
    at_basal = b.resting / (b.half_uptake + b.resting) * (1.0 + b.insulin_on_uptake)
    uptake = 0.5 * b.hepatic / at_basal
    s[STOMACH] += glucose_g
    s[10] += food_g
    step = 1.0 / HALF_STEPS
    for _ in range(HALF_STEPS):
        g = s[GLUCOSE]
        emptied = b.stomach_most_g_min * s[STOMACH] / (b.stomach_half_g + s[STOMACH])
        appears = b.gut_per_min * s[GUT] + FOOD_AT_WORK * s[12] / b.meal_min
        change = b.hepatic / (1.0 + s[ACTION]) + s[COUNTER] + drive + 1000.0 * appears / (b.volume_dl_kg * kg)
        change -= uptake * (1.0 + b.insulin_on_uptake * s[ACTION]) * g / (b.half_uptake + g)
        wanted = b.counter_per_min * max(0.0, b.counter_below - g)
        s[TISSUE] += step * (g - s[TISSUE]) / b.tissue_min
        s[SHOWN] += step * (s[TISSUE] - s[SHOWN]) / b.device_min
        s[ACTION] += step * (s[5] - s[ACTION]) / b.action_min
        s[5] += step * (s[4] - s[5]) / b.transit_min
        s[4] += step * (s[3] - s[4]) / b.transit_min
        s[3] += step * (insulin_u / b.basal_u_min - s[3]) / b.transit_min
        s[COUNTER] += step * (wanted - s[COUNTER]) / b.counter_min
        s[GUT] += step * (emptied - b.gut_per_min * s[GUT])
        s[STOMACH] -= step * emptied
        s[12] += step * (s[11] - s[12]) / b.meal_min
        s[11] += step * (s[10] - s[11]) / b.meal_min
        s[10] -= step * s[10] / b.meal_min
        s[GLUCOSE] = max(18.0, g + step * change)


@njit(cache=True)
def shown_over(
    s0: np.ndarray, b: Body, kg: float, insulin: np.ndarray, food: np.ndarray, glucose: np.ndarray, drive: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """What a perfect sensor shows, and blood glucose, after each minute."""
    s, n = s0.copy(), insulin.size
    shown, blood = np.zeros(n), np.zeros(n)
    for m in range(n):
        minute_on(s, b, kg, insulin[m], food[m], glucose[m], drive[m])
        shown[m], blood[m] = s[SHOWN], s[GLUCOSE]
    return shown, blood
