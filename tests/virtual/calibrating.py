"""Set one person's insulin and factor so that levels, number of doses and true factors come out as planned."""

from typing import Final

import numpy as np

from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.domain.units import MG_DL_PER_MMOL_L
from virtual.hovorka import (
    MMOL_PER_G,
    Q1,
    Q2,
    TISSUE,
    Floats,
    Physiology,
    add_absorption,
    forward,
    steady_state,
)
from virtual.living import live
from virtual.people import PersonPlan
from virtual.twins import reference_peaks
from virtual.ways import MU_PER_U, Body, Draws, Habits, Life, Plan

# Our choices, of the procedure and not of the person: a meal of this size settles the carbohydrate ratio, judged
# over these minutes; the level and insulin at which a first gain is set; the days and rounds of the search.
MEAL_G_PER_KG: Final = 0.6
JUDGED_MIN: Final = (240, 300)
LOW_MG_DL: Final = 66.0
INSULIN_IN_LOWS: Final = 1.4
SEARCH_DAYS: Final = 28
SEARCH_ROUNDS: Final = 8
INSULIN_TIMES: Final = (0.5, 2.0)
LEAST_PILOT_TREATMENTS: Final = 4


def grams_per_unit(p: Physiology, kg: float, level_mmol_l: float) -> float:
    """Carbohydrate (g) that 1 U covers: the meal's level is back where it was four to five hours later."""
    meal = MEAL_G_PER_KG * kg
    state, basal = steady_state(p, kg, level_mmol_l)
    gut = np.zeros(JUDGED_MIN[1])
    add_absorption(gut, 0, meal * MMOL_PER_G * p.bioavailability, p.food_time_min)
    least, most = 0.0, 2.0 * kg
    for _ in range(30):
        units = (least + most) / 2
        level = _level(p, kg, state, basal, gut, units)[JUDGED_MIN[0] :].mean() / MG_DL_PER_MMOL_L
        least, most = (units, most) if level > level_mmol_l else (least, units)
    return meal / units


def drop_per_unit_mg_dl(p: Physiology, kg: float, level_mmol_l: float) -> float:
    """mg/dL by which 1 U brings down a level that starts twice as high, at its most within five hours."""
    state, basal = steady_state(p, kg, level_mmol_l)
    state[[Q1, Q2, TISSUE]] *= 2.0
    nothing, units = np.zeros(JUDGED_MIN[1]), 0.02 * kg
    drop = _level(p, kg, state, basal, nothing, 0.0) - _level(p, kg, state, basal, nothing, units)
    return float(drop.max() / units)


def _level(p: Physiology, kg: float, state: Floats, basal: float, gut: Floats, units: float) -> Floats:
    insulin = np.full(gut.size, basal)
    insulin[0] += units * MU_PER_U
    ones = np.ones(gut.size)
    level, _ = forward(state, p, kg * ones, gut, insulin, ones, 0.0 * ones)
    return level


def first_gain(plan: PersonPlan, level_mmol_l: float) -> Floats:
    """(2,) gains that give the aimed factors in a typical low; the pilot corrects them."""
    p, kg = plan.physiology, plan.weight_kg
    state, basal = steady_state(p, kg, level_mmol_l)
    state[[Q1, Q2, TISSUE]] *= LOW_MG_DL / (level_mmol_l * MG_DL_PER_MMOL_L)
    minutes = np.ones(180)
    gut = np.zeros(minutes.size)
    add_absorption(gut, 0, REFERENCE_GRAMS_PER_KG * kg * MMOL_PER_G * p.bioavailability, plan.absorption_min[0])
    insulin = INSULIN_IN_LOWS * basal * minutes
    with_it = forward(state, p, kg * minutes, gut, insulin, minutes, 0.0 * minutes)[1]
    without = forward(state, p, kg * minutes, 0.0 * minutes, insulin, minutes, 0.0 * minutes)[1]
    nominal_k = (with_it - without).max() / REFERENCE_GRAMS_PER_KG
    gain: Floats = np.array(plan.factors_k) / nominal_k
    return gain


def settle(
    plan: PersonPlan, state: Floats, days: Plan, habits: Habits, draws: Draws, body: Body
) -> tuple[Habits, Body]:
    """Habits with insulin that makes the wanted number of doses a day, and a body with the aimed factors."""
    n = min(days.kg.size, SEARCH_DAYS * 1440)
    least, most = INSULIN_TIMES
    pilot: Life | None = None
    # Days on which lows are left alone are left out of the search, so that the insulin does not depend on them.
    draws = draws._replace(ignored_day=np.zeros_like(draws.ignored_day))
    for _ in range(SEARCH_ROUNDS):
        habits = habits._replace(insulin_times=float(np.sqrt(least * most)))
        pilot = live(state, n, plan.physiology, days, habits, draws, body)
        many = pilot.doses.shape[0] > plan.doses_per_day * n / 1440
        least, most = (least, habits.insulin_times) if many else (habits.insulin_times, most)
    assert pilot is not None  # SEARCH_ROUNDS is above zero
    return habits, body._replace(gain=_corrected_gain(plan, pilot, days, body, draws))


def _corrected_gain(plan: PersonPlan, pilot: Life, days: Plan, body: Body, draws: Draws) -> Floats:
    """The gains times aimed over found factor, found by twins in the pilot's treatments without their own scatter."""
    even = draws._replace(treatment_gain=np.ones_like(draws.treatment_gain))
    found = reference_peaks(plan.physiology, pilot, days, even, body)
    if found.size < LEAST_PILOT_TREATMENTS:
        return body.gain
    aimed = np.array(plan.factors_k)[found.band] / days.kg[found.minute]
    log_off = np.log(aimed * body.gain_times[days.local_day[found.minute]] / found.tissue_per_g)
    gain = body.gain.copy()
    for band in range(gain.size):
        inside = log_off[found.band == band]
        gain[band] *= np.exp(np.median(inside if inside.size >= LEAST_PILOT_TREATMENTS else log_off))
    return gain
