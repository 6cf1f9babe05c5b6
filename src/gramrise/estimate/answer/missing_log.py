"""Which missing log would narrow the interval most: a code and one sentence. It never asks for glucose to be given.

A log of insulin is not among them: what it would say is in the readings already (METHOD.md), so it narrows nothing.
"""

from datetime import date
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.findings import Inputs
from gramrise.domain.reasons import Verdict
from gramrise.domain.words import EventKind
from gramrise.estimate.body_weight import REFERENCE_ENDS_MONTHS
from gramrise.estimate.settings import EstimateSettings

Floats = NDArray[np.float64]

SENTENCES: Final = {
    "weight": "A new body weight would narrow the interval most.",
    "times": "The exact minute at which glucose was swallowed would narrow the interval most.",
    "food": "A log of food, with times, would narrow the interval most.",
}


def log_next_sentence(code: str) -> str:
    """The sentence for people; '' for the code ''."""
    return SENTENCES.get(code, "")


def log_next(
    inputs: Inputs, pairings: pl.DataFrame, factors: pl.DataFrame, day: date, settings: EstimateSettings
) -> str:
    """Code of the missing log, one of SENTENCES, or '' where none would narrow the interval by enough.

    pairings, factors  PAIRINGS and FACTORS of one person
    day                the local date
    """
    if not inputs.person.weights_kg.entries:
        return "weight"
    used = pairings.filter((pl.col("verdict") == Verdict.USED) & pl.col("factor_mg_dl_per_g").is_not_null())
    if used.height == 0:
        return ""
    factors = factors.filter(pl.col("pairings_used") > 0)
    gains = {
        "weight": _gain_of_weight(inputs, factors, day, settings),
        "times": _gain_of_times(used, factors, settings),
        "food": _gain_of_food(inputs, used, factors, settings),
    }
    best = max(gains, key=lambda code: gains[code])
    return best if gains[best] >= settings.log_next.least_gain_part else ""


def _gain(variance_now: pl.Series, variance_then: pl.Series) -> float:
    """Mean part by which the log interval of the measured bands would narrow."""
    narrowed = 1.0 - np.sqrt(variance_then.to_numpy() / variance_now.to_numpy())
    return float(np.mean(narrowed))


def _gain_of_weight(inputs: Inputs, factors: pl.DataFrame, day: date, settings: EstimateSettings) -> float:
    days = min(abs((day - on).days) for on, _ in inputs.person.weights_kg.entries)
    if inputs.person.age_years(day) * 12 >= REFERENCE_ENDS_MONTHS:
        return 0.0
    carried = settings.log_next.weight_sd_log_per_root_year**2 * days / 365.25
    variance = factors["sd_log"] ** 2
    return _gain(variance + carried, variance)


def _gain_of_times(used: pl.DataFrame, factors: pl.DataFrame, settings: EstimateSettings) -> float:
    doubtful = used["reasons"].list.contains("time_doubtful").to_numpy().astype(float)
    noise = _noise_log(used)
    sharper = noise / np.where(doubtful > 0, settings.levels.widen_variance_times, 1.0)
    return _gain_of_information(used, factors, noise, sharper, 0.0, settings)


def _gain_of_food(inputs: Inputs, used: pl.DataFrame, factors: pl.DataFrame, settings: EstimateSettings) -> float:
    if (inputs.events["kind"] == EventKind.FOOD).any():
        return 0.0
    noise = _noise_log(used)
    return _gain_of_information(used, factors, noise, noise, settings.log_next.food_part_of_variance, settings)


def _noise_log(used: pl.DataFrame) -> Floats:
    """Variance of each measurement on the log scale, near enough to compare logs by; never infinite."""
    part = used["factor_sd_mg_dl_per_g"] / used["factor_mg_dl_per_g"].clip(lower_bound=0.1)
    return np.asarray(np.minimum(part.fill_null(1.0).to_numpy() ** 2, 4.0))


def _gain_of_information(
    used: pl.DataFrame,
    factors: pl.DataFrame,
    noise_now: Floats,
    noise_then: Floats,
    part_gone: float,
    settings: EstimateSettings,
) -> float:
    """Gain where the treatments' noise shrinks, and a part of their scatter and of the systematic uncertainty goes."""
    prior = 1.0 / (settings.levels.person_sd_log**2 + settings.levels.band_sd_log**2)
    now, then = [], []
    for row in factors.iter_rows(named=True):
        mine = (used["band"] == row["band"]).to_numpy()
        lasting, whole = row["sd_log_lasting"] ** 2, row["sd_log"] ** 2
        scatter = row["event_sd_log"] ** 2
        before = np.sum(1.0 / (scatter + noise_now[mine]))
        after = np.sum(1.0 / (scatter * (1.0 - part_gone) + noise_then[mine]))
        information = max(1.0 / (whole - lasting) - prior, 0.0)
        grown = information * (after / before if mine.any() else 1.0)
        now.append(whole)
        then.append(lasting * (1.0 - part_gone) + 1.0 / (prior + grown))
    return _gain(pl.Series(now), pl.Series(then))
