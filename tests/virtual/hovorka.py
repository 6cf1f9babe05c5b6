"""Glucose and insulin of one person after Hovorka R et al. Physiol Meas 2004;25:905, one minute at a time.

Amounts in mmol of glucose and mU of insulin, levels in mmol/L, time in minutes. The gut is the paper's chain of two
equal compartments in closed form, so glucose and food enter as mmol absorbed in each minute.
"""

from math import exp
from typing import Final, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from gramrise.domain.units import MG_DL_PER_MMOL_L

Floats = NDArray[np.float64]

# 1 g of glucose in mmol: 1000 / (10 x 18.0156).
MMOL_PER_G: Final = 100.0 / MG_DL_PER_MMOL_L
# Hovorka 2004: the brain's use falls below this level; the kidney lets glucose pass above the other, at this rate.
FULL_USE_FROM_MMOL_L: Final = 4.5
KIDNEY_FROM_MMOL_L: Final = 9.0
KIDNEY_PER_MIN: Final = 0.003

# State: glucose in the accessible and the other compartment (mmol), insulin in two depots (mU), plasma insulin (mU/L),
# its three actions, and the level in the tissue under the sensor (mmol/L).
Q1, Q2, S1, S2, INSULIN, X1, X2, X3, TISSUE = range(9)
STATES: Final = 9


class Physiology(NamedTuple):
    """One person's rates, as published; amounts per kg of body weight."""

    bioavailability: float
    food_time_min: float
    volume_l_per_kg: float
    k12_per_min: float
    egp0_mmol_per_kg_min: float
    f01_mmol_per_kg_min: float
    s_it_per_min_per_mu_l: float
    s_id_per_min_per_mu_l: float
    s_ie_per_mu_l: float
    ka1_per_min: float
    ka2_per_min: float
    ka3_per_min: float
    insulin_time_min: float
    ke_per_min: float
    insulin_volume_l_per_kg: float
    counter_below_mmol_l: float
    counter_share_per_mmol_l: float
    rising_lag_min: float
    falling_lag_min: float


@njit(cache=True)
def absorbed_share(minutes: float, time_min: float) -> float:
    """Share of an amount absorbed by then: 1 - (1 + t/T) exp(-t/T); 0 before."""
    if minutes <= 0.0:
        return 0.0
    return 1.0 - (1.0 + minutes / time_min) * exp(-minutes / time_min)


@njit(cache=True)
def add_absorption(inflow_mmol: Floats, minute: int, absorbed_mmol: float, time_min: float) -> None:
    """Add what an amount swallowed at the start of `minute` brings in each following minute, in place."""
    last = min(inflow_mmol.size, minute + int(12.0 * time_min))
    before = 0.0
    for m in range(minute, last):
        share = absorbed_share(m + 1.0 - minute, time_min)
        inflow_mmol[m] += absorbed_mmol * (share - before)
        before = share


@njit(cache=True)
def _slopes(
    s: Floats, out: Floats, p: Physiology, kg: float, gut: float, insulin: float, sensitivity: float, flux: float
) -> None:
    level = s[Q1] / (p.volume_l_per_kg * kg)
    use = p.f01_mmol_per_kg_min * kg * min(1.0, level / FULL_USE_FROM_MMOL_L)
    kidney = max(0.0, KIDNEY_PER_MIN * (level - KIDNEY_FROM_MMOL_L) * p.volume_l_per_kg * kg)
    liver = max(0.0, 1.0 - s[X3]) + p.counter_share_per_mmol_l * max(0.0, p.counter_below_mmol_l - level)
    out[Q1] = (
        p.egp0_mmol_per_kg_min * kg * liver
        + gut
        + (flux * kg if flux > 0.0 else flux * kg * min(1.0, level / FULL_USE_FROM_MMOL_L))
        - use
        - kidney
        - s[X1] * s[Q1]
        + p.k12_per_min * s[Q2]
    )
    out[Q2] = s[X1] * s[Q1] - (p.k12_per_min + s[X2]) * s[Q2]
    out[S1] = insulin - s[S1] / p.insulin_time_min
    out[S2] = (s[S1] - s[S2]) / p.insulin_time_min
    out[INSULIN] = s[S2] / (p.insulin_time_min * p.insulin_volume_l_per_kg * kg) - p.ke_per_min * s[INSULIN]
    felt = s[INSULIN] * sensitivity
    out[X1] = p.ka1_per_min * (p.s_it_per_min_per_mu_l * felt - s[X1])
    out[X2] = p.ka2_per_min * (p.s_id_per_min_per_mu_l * felt - s[X2])
    out[X3] = p.ka3_per_min * (p.s_ie_per_mu_l * felt - s[X3])
    lag = p.rising_lag_min if level > s[TISSUE] else p.falling_lag_min
    out[TISSUE] = (level - s[TISSUE]) / lag


@njit(cache=True)
def advance(
    s: Floats, work: Floats, p: Physiology, kg: float, gut: float, insulin: float, sensitivity: float, flux: float
) -> None:
    """One minute on, in place (classical Runge-Kutta of order 4).

    s            state, length 9
    work         scratch, shape (5, 9)
    gut          mmol of glucose absorbed in the minute
    insulin      mU delivered in the minute
    sensitivity  multiplier of insulin's action; flux: mmol/kg/min that enters (or leaves) for other causes
    """
    _slopes(s, work[0], p, kg, gut, insulin, sensitivity, flux)
    work[4] = s + 0.5 * work[0]
    _slopes(work[4], work[1], p, kg, gut, insulin, sensitivity, flux)
    work[4] = s + 0.5 * work[1]
    _slopes(work[4], work[2], p, kg, gut, insulin, sensitivity, flux)
    work[4] = s + work[2]
    _slopes(work[4], work[3], p, kg, gut, insulin, sensitivity, flux)
    for i in range(STATES):
        s[i] += (work[0, i] + 2.0 * work[1, i] + 2.0 * work[2, i] + work[3, i]) / 6.0


@njit(cache=True)
def forward(
    state: Floats, p: Physiology, kg: Floats, gut: Floats, insulin: Floats, sensitivity: Floats, flux: Floats
) -> tuple[Floats, Floats]:
    """Level and tissue level (mg/dL) at the end of each minute from a state, with everything that enters given."""
    n = gut.size
    s, work = state.copy(), np.zeros((5, STATES))
    level, tissue = np.zeros(n), np.zeros(n)
    for m in range(n):
        advance(s, work, p, kg[m], gut[m], insulin[m], sensitivity[m], flux[m])
        level[m] = s[Q1] / (p.volume_l_per_kg * kg[m]) * MG_DL_PER_MMOL_L
        tissue[m] = s[TISSUE] * MG_DL_PER_MMOL_L
    return level, tissue


def steady_state(p: Physiology, kg: float, level_mmol_l: float) -> tuple[Floats, float]:
    """The state that stays at a level, and the basal rate (mU/min) that holds it. Shape (9,); level in mmol/L."""
    lowest, highest = 0.0, 200.0
    for _ in range(80):
        insulin = (lowest + highest) / 2
        lowest, highest = (insulin, highest) if _net_flux(p, level_mmol_l, insulin) > 0 else (lowest, insulin)
    x1, x2 = p.s_it_per_min_per_mu_l * insulin, p.s_id_per_min_per_mu_l * insulin
    basal = insulin * p.ke_per_min * p.insulin_volume_l_per_kg * kg
    depot = basal * p.insulin_time_min
    q1 = level_mmol_l * p.volume_l_per_kg * kg
    state = [q1, x1 * q1 / (p.k12_per_min + x2), depot, depot, insulin, x1, x2, p.s_ie_per_mu_l * insulin, level_mmol_l]
    return np.array(state), basal


def _net_flux(p: Physiology, level: float, insulin: float) -> float:
    """Net flux into the accessible compartment at a steady insulin, mmol/kg/min."""
    x1, x2 = p.s_it_per_min_per_mu_l * insulin, p.s_id_per_min_per_mu_l * insulin
    q1 = level * p.volume_l_per_kg
    back = p.k12_per_min * x1 * q1 / (p.k12_per_min + x2)
    liver = p.egp0_mmol_per_kg_min * max(0.0, 1.0 - p.s_ie_per_mu_l * insulin)
    use = p.f01_mmol_per_kg_min * min(1.0, level / FULL_USE_FROM_MMOL_L)
    kidney = max(0.0, KIDNEY_PER_MIN * (level - KIDNEY_FROM_MMOL_L) * p.volume_l_per_kg)
    return liver - use - kidney - x1 * q1 + back


def weight_adjusted_ceiling(p: Physiology, insulin_mu_l: float) -> float:
    """mg/dL x kg per g if all that is absorbed stays: bioavailability over the total distribution volume (dL/kg)."""
    other = p.s_it_per_min_per_mu_l * insulin_mu_l / (p.k12_per_min + p.s_id_per_min_per_mu_l * insulin_mu_l)
    return p.bioavailability * 1000.0 / (p.volume_l_per_kg * (1.0 + other) * 10.0)
