"""Minimal model of glucose kinetics with insulin action, and the gut of Lehmann and Deutsch. Minutes, mg/dL, mU/L.

    G' = -(p1 + X) G + p1 Gb + Ra / (V kg)          Bergman RN et al. Am J Physiol 1979;236:E667 (form; from memory)
    X' = -p2 X + p2 S (I - Ib)

Each minute is stepped exactly for inputs held over the minute (exponentials), not by a Runge-Kutta scheme.
"""

from math import exp
from typing import NamedTuple

import numpy as np
from numba import njit

# Lehmann ED, Deutsch T. J Biomed Eng 1992;14:235 (T11, from memory): emptying at most 120 mmol/h in an adult, ramps of
# 30 min, absorption 1 per hour. 120 mmol/h of glucose is 0.36 g/min. Smaller people empty as weight^0.75 (our choice).
MOST_EMPTYING_G_MIN = 120 * 0.180156 / 60
ADULT_KG = 70.0
MEAL_RAMP_MIN = 30.0
# A low hurries the stomach: half a liquid is gone in 27.6 instead of 48.5 min (Schvarcz 1993, T04).
HURRIED_IN_A_LOW = 48.5 / 27.6
MEAL_ABSORPTION_PER_MIN = 1.0 / 60.0


class Kinetics(NamedTuple):
    """One person. Units: per min, per min, per (mU/L) per min, dL/kg, mg/dL, mU/L, per min, L/kg, per min."""

    p1: float
    p2: float
    sensitivity: float
    volume_dl_kg: float
    basal_glucose: float
    basal_insulin: float
    insulin_gone_per_min: float
    insulin_volume_l_kg: float
    depot_per_min: float
    available: float  # share of swallowed carbohydrate that reaches the blood
    ramp_min: float  # of pure glucose taken in a low; the stomach empties faster then (T04, T05)
    absorption_per_min: float
    rising_lag: float
    falling_lag: float


@njit(cache=True)
def emptied_share(minutes: float, grams: float, ramp: float, most: float) -> float:
    """Share of an amount that has left the stomach: trapezoid, or triangle where the plateau is not reached."""
    if minutes <= 0.0:
        return 0.0
    if grams <= most * ramp:
        top, plateau = grams / ramp, 0.0
    else:
        top, plateau = most, (grams - most * ramp) / most
    if minutes < ramp:
        return 0.5 * top * minutes * minutes / ramp / grams
    if minutes < ramp + plateau:
        return (0.5 * top * ramp + top * (minutes - ramp)) / grams
    left = 2.0 * ramp + plateau - minutes
    if left <= 0.0:
        return 1.0
    return 1.0 - 0.5 * top * left * left / ramp / grams


@njit(cache=True)
def swallow(
    entering: np.ndarray, minute: int, grams: float, times: float, kg: float, ramp: float, rate: float
) -> None:  # fmt: skip
    """Add to `entering` (g per minute) what an amount brings; `times` scales all of it. Short ramps: in a low."""
    most = MOST_EMPTYING_G_MIN * (kg / ADULT_KG) ** 0.75 * (HURRIED_IN_A_LOW if ramp < MEAL_RAMP_MIN else 1.0)
    gut, before, stay = 0.0, 0.0, exp(-rate)
    for m in range(minute, min(entering.size, minute + 480)):
        share = emptied_share(m + 1.0 - minute, grams, ramp, most)
        gut += grams * times * (share - before)
        before = share
        entering[m] += gut * (1.0 - stay)
        gut *= stay


@njit(cache=True)
def minute_on(
    s: np.ndarray, k: Kinetics, kg: float, entering_g: float, insulin_mu: float, action: float, drive: float
) -> None:
    """One minute, in place. State: glucose, remote insulin action, two depots (mU), plasma insulin, tissue glucose."""
    stay = exp(-k.depot_per_min)
    s[2] += insulin_mu
    first = s[2] * (1.0 - stay)
    s[2] -= first
    s[3] += first
    second = s[3] * (1.0 - stay)
    s[3] -= second
    gone = exp(-k.insulin_gone_per_min)
    s[4] = s[4] * gone + second / (k.insulin_volume_l_kg * kg) * (1.0 - gone) / k.insulin_gone_per_min
    remote = exp(-k.p2)
    aim = k.sensitivity * (s[4] * action - k.basal_insulin)
    s[1] = s[1] * remote + aim * (1.0 - remote)
    pull = max(0.2 * k.p1, k.p1 + s[1])
    gain = k.p1 * k.basal_glucose + entering_g * 1000.0 * k.available / (k.volume_dl_kg * kg) + drive
    left = exp(-pull)
    s[0] = max(15.0, s[0] * left + gain / pull * (1.0 - left))
    lag = k.rising_lag if s[0] > s[5] else k.falling_lag
    s[5] += (s[0] - s[5]) * (1.0 - exp(-1.0 / lag))


def at_rest(k: Kinetics, kg: float) -> tuple[np.ndarray, float]:
    """The state at basal glucose, and the insulin (mU/min) that keeps it."""
    infused = k.basal_insulin * k.insulin_gone_per_min * k.insulin_volume_l_kg * kg
    stay = exp(-k.depot_per_min)
    depot = infused * stay / (1.0 - stay)
    return np.array([k.basal_glucose, 0.0, depot, depot, k.basal_insulin, k.basal_glucose]), infused


@njit(cache=True)
def run(
    s0: np.ndarray,
    k: Kinetics,
    kg: np.ndarray,
    entering: np.ndarray,
    insulin: np.ndarray,
    action: np.ndarray,
    drive: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Glucose and tissue glucose at the end of each minute, everything that enters being given."""
    s, n = s0.copy(), entering.size
    glucose, tissue = np.zeros(n), np.zeros(n)
    for m in range(n):
        minute_on(s, k, kg[m], entering[m], insulin[m], action[m], drive[m])
        glucose[m], tissue[m] = s[0], s[5]
    return glucose, tissue
