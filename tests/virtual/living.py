"""A person living the planned days: eating, giving insulin, feeling lows and treating them. One compiled loop.

The compiler's cache does not see a change in `hovorka`, whose functions are called here and in `twins`: after one,
change these files too or empty `__pycache__`.
"""

from typing import Final

import numpy as np
from numba import njit

from gramrise.domain.units import MG_DL_PER_MMOL_L
from virtual.hovorka import MMOL_PER_G, Q1, STATES, TISSUE, Floats, Physiology, add_absorption, advance
from virtual.ways import (
    CHAIN_MIN,
    DOSE_COLUMNS,
    GRAMS,
    MINUTE,
    MOST_DOSES_PER_DAY,
    MU_PER_U,
    TREATMENT,
    Body,
    Draws,
    Habits,
    Life,
    Plan,
)

SLOPE_OVER_MIN: Final = 15


@njit(cache=True)
def dose_effect_g(grams: float, before_g: float, reference_g: float, exponent: float) -> float:
    """Grams an amount counts for when the rise goes as grams^exponent and `before_g` was taken shortly before."""
    return float(reference_g ** (1.0 - exponent) * ((before_g + grams) ** exponent - before_g**exponent))


@njit(cache=True)
def _amount(level: float, slope: float, kg: float, h: Habits, spread: float, liquid: bool) -> float:
    """Pieces or mL the person takes: enough, they believe, to reach the aim from where it is heading."""
    need = max(15.0, h.aim_mg_dl - (level + h.slope_minutes * min(0.0, slope)))
    grams = min(h.most_grams_per_kg * kg, need * kg / h.believed_k * np.exp(h.amount_sd_log * spread))
    if liquid:
        return float(max(5.0, 5.0 * np.round(grams / h.grams_per_ml / 5.0)))
    return float(max(1.0, np.round(grams / h.grams_per_piece)))


@njit(cache=True)
def _acts(level: float, slope: float, since: int, m: int, plan: Plan, h: Habits, d: Draws) -> bool:
    """Whether the person, feeling what is true, takes something in this minute."""
    day = plan.local_day[m]
    if since < h.again_after_min:
        return False
    if since < CHAIN_MIN:
        return level < h.again_below_mg_dl and slope < 0.8 and d.chance[m, 0] < 2.0 * h.awake_chance
    if d.ignored_day[day]:
        return False
    if not plan.awake[m]:
        return bool(level < d.asleep_threshold[day] and d.chance[m, 0] < h.asleep_chance)
    if level < d.awake_threshold[day]:
        return bool(d.chance[m, 0] < h.awake_chance)
    heading = level + h.early_ahead_min * slope
    early = d.early_day[day] and level < h.early_below_mg_dl and slope < h.early_slope and heading < h.early_ahead_mg_dl
    return early and d.chance[m, 0] < h.early_chance


@njit(cache=True)
def _basal(m: int, stopped_until: int, level: float, slope: float, plan: Plan, h: Habits) -> tuple[float, int]:
    """mU of basal in this minute, and until when the pump has stopped itself."""
    rate = h.basal_mu_min_kg * plan.kg[m] * plan.basal_share[m] * np.sqrt(h.insulin_times)
    if not h.suspends:
        return rate, stopped_until
    low_ahead = level + h.suspend_ahead_min * slope < h.suspend_below_mg_dl
    if m >= stopped_until + 30 and low_ahead:
        stopped_until = m + int(h.suspend_most_min)
    if m < stopped_until and slope > 0.5 and level > h.suspend_below_mg_dl + 15.0:
        stopped_until = m
    return (0.0, stopped_until) if m < stopped_until else (rate, stopped_until)


@njit(cache=True)
def _bolus(m: int, seen: float, plan: Plan, h: Habits) -> float:
    """U given in this minute for counted food, with a correction; less when the sensor shows little."""
    if plan.bolus_for_g[m] <= 0.0:
        return 0.0
    units = plan.bolus_for_g[m] / h.grams_per_unit
    if seen > h.correct_above_mg_dl:
        units += (seen - h.correct_to_mg_dl) / h.drop_per_unit_mg_dl
    if seen < 80.0:
        units *= 0.6
    return float(np.round(units * h.insulin_times * 20.0) / 20.0)


@njit(cache=True)
def _eat(m: int, grams: float, food_g: Floats, food_in: Floats, h: Habits) -> None:
    if m < food_g.size:
        food_g[m] += grams
        add_absorption(food_in, m, grams * MMOL_PER_G * h.bioavailability, h.food_time_min)


@njit(cache=True)
def _taken_shortly_before(m: int, doses: Floats, doses_n: int, memory_min: int) -> float:
    before, k = 0.0, doses_n - 1
    while k >= 0 and m - doses[k, MINUTE] < memory_min:
        before += doses[k, GRAMS]
        k -= 1
    return before


@njit(cache=True)
def _take_glucose(
    m: int, level: float, slope: float, plan: Plan, h: Habits, d: Draws, body: Body, doses: Floats, doses_n: int,
    glucose_in: Floats,
) -> None:  # fmt: skip
    """Swallow one dose now: write it down in row `doses_n` and add what it brings to the minutes that follow."""
    kg = plan.kg[m]
    liquid = not plan.awake[m] and d.chance[m, 2] < h.liquid_at_night_share
    amount = _amount(level, slope, kg, h, d.amount[m], liquid)
    grams = amount * (h.grams_per_ml if liquid else h.grams_per_piece)
    before = _taken_shortly_before(m, doses, doses_n, h.exponent_memory_min)
    treatment = 0
    if doses_n > 0:
        chained = m - doses[doses_n - 1, MINUTE] < CHAIN_MIN
        treatment = int(doses[doses_n - 1, TREATMENT]) + (0 if chained else 1)
    counts = dose_effect_g(grams, before, body.reference_g_per_kg * kg, h.exponent)
    gain = body.gain[plan.band[m]] * body.gain_times[plan.local_day[m]] * d.treatment_gain[treatment]
    time_min = body.absorption_min[1 if liquid else 0] * d.treatment_time[treatment]
    absorbed = counts * MMOL_PER_G * h.bioavailability * gain
    add_absorption(glucose_in, m, absorbed, time_min)
    doses[doses_n] = np.array([m, grams, 1.0 if liquid else 0.0, amount, treatment, absorbed, time_min])


@njit(cache=True)
def _slope(trace: Floats, m: int) -> float:
    return float((trace[m] - trace[max(0, m - SLOPE_OVER_MIN)]) / SLOPE_OVER_MIN)


@njit(cache=True)
def _snack_g(h: Habits, chance: float) -> float:
    return float(np.round(h.food_least_g + chance * (h.food_most_g - h.food_least_g)))


@njit(cache=True)
def live(state: Floats, minutes: int, p: Physiology, plan: Plan, h: Habits, d: Draws, body: Body) -> Life:
    """Live `minutes` minutes from a state, shape (9,), which is left unchanged."""
    n = minutes
    level, tissue, insulin, bolus = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    food_g, food_in, glucose_in = np.zeros(n), np.zeros(n), np.zeros(n)
    most = MOST_DOSES_PER_DAY * (n // 1440 + 1)
    doses, states, doses_n = np.zeros((most, DOSE_COLUMNS)), np.zeros((most, STATES)), 0
    s, work = state.copy(), np.zeros((5, STATES))
    last_act, stopped_until = -10000, -10000
    for m in range(n):
        level[m] = s[Q1] / (p.volume_l_per_kg * plan.kg[m]) * MG_DL_PER_MMOL_L
        tissue[m] = s[TISSUE] * MG_DL_PER_MMOL_L
        slope = _slope(level, m)
        if plan.food_g[m] > 0.0:
            _eat(m, plan.food_g[m], food_g, food_in, h)
        bolus[m] = _bolus(m, tissue[m], plan, h)
        basal, stopped_until = _basal(m, stopped_until, tissue[m], _slope(tissue, m), plan, h)
        insulin[m] = basal + bolus[m] * MU_PER_U
        if doses_n < most and _acts(level[m], slope, m - last_act, m, plan, h, d):
            again, last_act = m - last_act < CHAIN_MIN, m
            if not again and d.chance[m, 1] < h.food_instead_share:
                _eat(m, _snack_g(h, d.chance[m, 2]), food_g, food_in, h)
            else:
                _take_glucose(m, level[m], slope, plan, h, d, body, doses, doses_n, glucose_in)
                states[doses_n] = s
                doses_n += 1
                if d.chance[m, 3] < h.food_after_share:
                    wait = h.food_after_least_min + d.chance[m, 1] * (h.food_after_most_min - h.food_after_least_min)
                    _eat(m + int(wait), _snack_g(h, d.chance[m, 2]), food_g, food_in, h)
        gut = food_in[m] + glucose_in[m]
        advance(s, work, p, plan.kg[m], gut, insulin[m], plan.sensitivity[m], plan.flux[m])
    return Life(level, tissue, insulin, bolus, food_g, food_in, glucose_in, doses[:doses_n], states[:doses_n])
