"""Truth by twins: the same person over the same minutes, with and without an amount, all else as it happened."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from virtual.hovorka import MMOL_PER_G, Floats, Physiology, add_absorption, forward
from virtual.ways import (
    ABSORBED_MMOL,
    ABSORPTION_MIN,
    GRAMS,
    LIQUID,
    MINUTE,
    TREATMENT,
    Body,
    Draws,
    Life,
    Plan,
)

TWIN_MIN: Final = 180  # the peak of a rise lies within; treatments nearer to the end have no twin


@dataclass(frozen=True, slots=True)
class Peaks:
    """One entry a treatment whose twins could be run."""

    minute: NDArray[np.int64]  # of its first dose
    band: NDArray[np.int64]
    treatment: NDArray[np.int64]
    grams: Floats  # of all its doses
    reference_grams: Floats
    tissue_per_g: Floats  # peak of the reference amount's difference as a sensor without error shows it, mg/dL per g
    level_per_g: Floats  # the same in blood
    minutes_to_peak: Floats
    doses_rise: Floats  # peak of the difference made by all its doses as they were, tissue, mg/dL

    @property
    def size(self) -> int:
        return self.minute.size


@njit(cache=True)
def _twin(
    first: int,
    state: Floats,
    p: Physiology,
    life: Life,
    plan: Plan,
    own: Floats,
    reference_mmol: float,
    time_min: float,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Tissue and blood without the treatment, and what the reference amount and the doses add, from minute `first`."""
    end = min(life.food_in_mmol.size, first + TWIN_MIN)
    kg, insulin = plan.kg[first:end], life.insulin_mu[first:end]
    sensitivity, flux = plan.sensitivity[first:end], plan.flux[first:end]
    others = life.food_in_mmol[first:end] + life.glucose_in_mmol[first:end] - own[: end - first]
    level, tissue = forward(state, p, kg, others, insulin, sensitivity, flux)
    with_reference = others.copy()
    add_absorption(with_reference, 0, reference_mmol, time_min)
    level_more, tissue_more = forward(state, p, kg, with_reference, insulin, sensitivity, flux)
    _, tissue_was = forward(state, p, kg, others + own[: end - first], insulin, sensitivity, flux)
    return tissue, tissue_more - tissue, level_more - level, tissue_was - tissue


def reference_peaks(p: Physiology, life: Life, plan: Plan, draws: Draws, body: Body) -> Peaks:
    """Peaks of every treatment with at least TWIN_MIN minutes after it."""
    rows = []
    numbers = life.doses[:, TREATMENT].astype(int)
    for treatment in np.unique(numbers):
        of_it = np.flatnonzero(numbers == treatment)
        first = int(life.doses[of_it[0], MINUTE])
        if first + TWIN_MIN > life.level_mg_dl.size:
            continue
        rows.append((first, treatment, *_one(p, life, plan, draws, body, of_it)))
    table = np.array(rows, dtype=float).reshape(len(rows), 8)
    minute = table[:, 0].astype(np.int64)
    return Peaks(minute, plan.band[minute], table[:, 1].astype(np.int64), *table[:, 2:].T)


def _one(
    p: Physiology, life: Life, plan: Plan, draws: Draws, body: Body, of_it: NDArray[np.int64]
) -> tuple[float, float, float, float, float, float]:
    doses = life.doses[of_it]
    first, treatment = int(doses[0, MINUTE]), int(doses[0, TREATMENT])
    gain = body.gain[plan.band[first]] * body.gain_times[plan.local_day[first]] * draws.treatment_gain[treatment]
    time_min = body.absorption_min[int(doses[0, LIQUID])] * draws.treatment_time[treatment]
    reference_g = body.reference_g_per_kg * plan.kg[first]
    reference_mmol = reference_g * MMOL_PER_G * p.bioavailability * gain
    own = own_inflow(life, of_it, TWIN_MIN)
    _, tissue, level, was = _twin(first, life.states[of_it[0]], p, life, plan, own, reference_mmol, time_min)
    return (
        float(doses[:, GRAMS].sum()),
        reference_g,
        float(tissue.max() / reference_g),
        float(level.max() / reference_g),
        float(tissue.argmax() + 1),
        float(was.max()),
    )


def own_inflow(life: Life, of_it: NDArray[np.int64], minutes: int) -> Floats:
    """mmol that a treatment's doses brought in each minute from its first dose on; shape (minutes,)."""
    first = int(life.doses[of_it[0], MINUTE])
    own = np.zeros(minutes)
    for dose in of_it:
        at = int(life.doses[dose, MINUTE]) - first
        if at < minutes:
            add_absorption(own, at, float(life.doses[dose, ABSORBED_MMOL]), float(life.doses[dose, ABSORPTION_MIN]))
    return own
