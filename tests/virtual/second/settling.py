"""Find the insulin and the gains of someone, and the truth by twins."""

import numpy as np

from virtual.second.body import MEAL_ABSORPTION_PER_MIN, MEAL_RAMP_MIN, at_rest, run, swallow
from virtual.second.living import Lived, Ways, World, spend
from virtual.second.someone import Someone

REFERENCE_G_PER_KG = 0.15  # half of the guideline's 0.3 g/kg; what defines the factor
TWIN = 180
SEARCH_MIN = 28 * 1440


def grams_per_unit(who: Someone) -> float:
    """Carbohydrate whose level is back at its start five hours after it was eaten with 1 U for so much."""
    state, rate = at_rest(who.kinetics, who.kg)
    meal, ones = 0.7 * who.kg, np.ones(320)
    entering = np.zeros(320)
    swallow(entering, 0, meal, 1.0, who.kg, MEAL_RAMP_MIN, MEAL_ABSORPTION_PER_MIN)
    units = np.geomspace(0.005, 0.6, 40) * who.kg
    ends = []
    for u in units:
        insulin = rate * ones
        insulin[0] += 1000.0 * u
        ends.append(run(state, who.kinetics, who.kg * ones, entering, insulin, ones, 0 * ones)[0][270:].mean())
    return float(meal / np.interp(-who.kinetics.basal_glucose, -np.array(ends), units))


def drop_per_unit(who: Someone) -> float:
    state, rate = at_rest(who.kinetics, who.kg)
    ones, state = np.ones(300), state.copy()
    state[[0, 5]] = 230.0
    more = rate * ones
    more[0] += 1000.0
    args = (who.kinetics, who.kg * ones, 0 * ones)
    without, with_it = (run(state, *args, insulin, ones, 0 * ones)[0] for insulin in (rate * ones, more))
    return float((without - with_it).max())


def settle(who: Someone, w: World, suspends: bool) -> tuple[np.ndarray, Ways]:
    """Ways under which about the wanted number of doses happens and the factors are as aimed."""
    state, rate = at_rest(who.kinetics, who.kg)
    h = Ways(
        rate / who.kg, grams_per_unit(who), drop_per_unit(who), 1.0, who.usual_g_per_kg, who.steadiness,
        who.piece.glucose_per_unit_g, who.liquid.glucose_per_unit_g, 1.0, 1.0, suspends,
    )  # fmt: skip
    n = min(SEARCH_MIN, w.kg.size)
    low, high = 0.4, 2.2
    for _ in range(9):
        h = h._replace(generous=(low + high) / 2)
        lived = spend(state, n, who.kinetics, w, h)
        low, high = (low, h.generous) if lived.doses.shape[0] > who.rate * n / 1440 else (h.generous, high)
        h = _gains(who, w, h, lived)
    return state, h


def _gains(who: Someone, w: World, h: Ways, lived: Lived) -> Ways:
    """The gains times aimed over found, by band where three or more treatments say so."""
    even = w._replace(scatter=np.ones_like(w.scatter))
    minute, k, *_ = truths(who, even, h, lived)
    if minute.size < 3:
        return h
    off = np.log(np.array(who.k)[w.night[minute].astype(int)] / k)
    bands = [off[w.night[minute] == night] for night in (False, True)]
    day, night = (float(np.exp(np.median(band if band.size >= 3 else off))) for band in bands)
    return h._replace(gain_day=h.gain_day * day, gain_night=h.gain_night * night)


def truths(who: Someone, w: World, h: Ways, lived: Lived) -> tuple[np.ndarray, ...]:
    """Of each treatment with three hours after it: minute, k of the reference amount in the tissue and in the blood,
    minutes to the peak, grams, peak of what its doses did, its number."""
    rows = []
    for number in np.unique(lived.doses[:, 4]):
        doses = lived.doses[lived.doses[:, 4] == number]
        first = int(doses[0, 0])
        if first + TWIN <= lived.glucose.size:
            rows.append((first, *_twin(who, w, h, lived, doses, first), number))
    table = np.array(rows).reshape(len(rows), 7).T
    return (table[0].astype(int), *table[1:])


def _twin(who: Someone, w: World, h: Ways, lived: Lived, doses: np.ndarray, first: int) -> tuple[float, ...]:
    k, span = who.kinetics, slice(first, first + TWIN)
    kg = w.kg[first]
    own, reference = np.zeros(TWIN), np.zeros(TWIN)
    for minute, grams, _, _, _, times in doses:
        if minute - first < TWIN:
            swallow(own, int(minute) - first, grams, times, kg, k.ramp_min, k.absorption_per_min)
    times = (h.gain_night if w.night[first] else h.gain_day) * w.scatter[int(doses[0, 4])]
    swallow(reference, 0, REFERENCE_G_PER_KG * kg, times, kg, k.ramp_min, k.absorption_per_min)
    others = lived.entering[span] - own
    state = lived.states[int(np.flatnonzero(lived.doses[:, 0] == first)[0])]
    rest = (lived.insulin[span], w.action[span], w.drive[span])
    blood, tissue = run(state, k, w.kg[span], others, *rest)
    blood_more, tissue_more = run(state, k, w.kg[span], others + reference, *rest)
    was = run(state, k, w.kg[span], lived.entering[span], *rest)[1]
    rise = tissue_more - tissue
    top = (rise.max() / REFERENCE_G_PER_KG, (blood_more - blood).max() / REFERENCE_G_PER_KG)
    return (*top, float(rise.argmax() + 1), float(doses[:, 1].sum()), float((was - tissue).max()))
