"""The person's own placebo: the rise that the method finds on untreated stretches, where nothing was eaten.

A path that is wrong for a person errs the same way in each of their treatments, and shows it where no glucose was
given: a pretended dose on a stretch that nobody treated should find no rise. What it finds beyond the average person is
in part taken off every measured rise, by candidate. Its uncertainty becomes part of the systematic uncertainty.
"""

from dataclasses import dataclass, replace

import numpy as np

from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.estimate.array_types import Array
from gramrise.estimate.path import WEIGHT_UNKNOWN_KG, CandidateModel, TreatmentWindows, measurable
from gramrise.estimate.path_settings import PathSettings, PlaceboSettings
from gramrise.estimate.treatment.likelihood import factor_likelihood
from gramrise.estimate.treatment.measurement import MeasurementSetup
from gramrise.estimate.treatment.untreated_evidence import UntreatedStretches
from gramrise.estimate.treatment.untreated_path import readings_of

# Steps of reweighing for the robust mean: it has settled long before (our choice).
_STEPS = 5


@dataclass(frozen=True, slots=True)
class PathOffset:
    """What is taken off every rise of a person, mg/dL, and its uncertainty."""

    rise_mg_dl: Array  # [K] by candidate
    sd_mg_dl: Array  # [K] of what is left


def path_offset(stretches: UntreatedStretches | None, setup: MeasurementSetup) -> PathOffset:
    """The offset from untreated stretches; where they are too few, nothing comes off and the prior's sd is left."""
    settings, model = setup.settings, setup.model
    rules, count = settings.placebo, len(model.candidates)
    nothing = PathOffset(np.zeros(count), np.full(count, rules.person_sd_mg_dl))
    if stretches is None:
        return nothing
    windows = stretches.windows
    usable = measurable(windows, settings) & (_start(windows) <= rules.highest_start_mg_dl)
    chosen = np.flatnonzero(usable & (stretches.probability > 0))
    if chosen.size < rules.fewest:
        return nothing
    rise, variance = _pretended(model, windows.chosen(chosen), settings)
    mean, of_mean = _robust_mean(rise, variance, stretches.probability[chosen], rules)
    part = rules.part * rules.person_sd_mg_dl**2 / (rules.person_sd_mg_dl**2 + of_mean)
    return PathOffset(part * (mean - rules.centre_mg_dl), rules.person_sd_mg_dl * np.sqrt(1.0 - part))


def _start(windows: TreatmentWindows) -> Array:
    """[B] the last reading at or before minute 0; infinite where there is none."""
    before = windows.present & (windows.minutes <= 0)
    last = np.where(before, windows.minutes, -np.inf).argmax(axis=1)[:, None]
    value = np.take_along_axis(windows.values, last, axis=1)[:, 0]
    return np.where(before.any(axis=1), value, np.inf)


def _pretended(model: CandidateModel, windows: TreatmentWindows, settings: PathSettings) -> tuple[Array, Array]:
    """[K, B] peak rise that a pretended reference amount at minute 0 is found to make, mg/dL, and its variance."""
    weight = np.where(np.isnan(windows.weight_kg), WEIGHT_UNKNOWN_KG, windows.weight_kg)
    grams = REFERENCE_GRAMS_PER_KG * weight
    at_once = np.zeros((weight.size, 1), dtype=np.int64)
    given = replace(windows, dose_minutes=at_once, dose_grams=grams[:, None], dose_form=at_once)
    found = factor_likelihood(model, given, settings, (0,), readings_of(model, given, settings))
    return found.factor[0] * grams, grams**2 / found.precision[0]


def _robust_mean(rise: Array, variance: Array, probability: Array, rules: PlaceboSettings) -> tuple[Array, Array]:
    """[K] weighted mean over stretches (Huber's weights for outlying ones) and its variance."""
    whole = variance + rules.stretch_sd_mg_dl**2
    first = probability / whole
    weight, mean = first, (first * rise).sum(axis=1) / first.sum(axis=1)
    for _ in range(_STEPS):
        away = np.abs(rise - mean[:, None]) / np.sqrt(whole)
        weight = first / np.maximum(1.0, away / rules.outlying_sds)
        mean = (weight * rise).sum(axis=1) / weight.sum(axis=1)
    of_mean = (weight**2 * (rise - mean[:, None]) ** 2).sum(axis=1) / weight.sum(axis=1) ** 2
    return mean, of_mean
