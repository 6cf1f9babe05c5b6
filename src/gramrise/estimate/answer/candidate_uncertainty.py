"""Systematic uncertainty that all treatments of a person share: path, shape and the exponent of the amount.

A wrong candidate errs the same way for every treatment, so its error does not average out. Neither does a path that is
off by some mg/dL in all of them, nor a wrong exponent where a person's usual amount is not the reference amount.
"""

from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.starting import BAND_SD_LOG, EVENT_SD_LOG, PERSON_SD_LOG, REFERENCE_GRAMS_PER_KG
from gramrise.estimate.settings import DoubtSettings
from gramrise.estimate.treatment import AveragedMeasurements

Floats = NDArray[np.float64]

# A level is never below this part of the table: our choice, so that its logarithm exists.
LEAST_RATIO: Final = 0.05
# Our choice: smaller amounts are taken for this one, as they tell so little.
LEAST_GRAMS: Final = 0.5


def shared_sd_log(
    measured: AveragedMeasurements,
    used: pl.DataFrame,
    table: Floats,
    bands: tuple[str, ...],
    levels: Floats,
    settings: DoubtSettings,
) -> Floats:
    """[bands] all three together: candidates, a path off by the same in every rise, the exponent.

    levels   [bands] log ratios to the table; the rest as for `between_candidates_sd_log`
    """
    candidates = between_candidates_sd_log(measured, used, table, bands)
    offset = offset_sd_log(measured.offset_sd_mg_dl, used, table, bands, levels)
    exponent = exponent_sd_log(settings.exponent_sd, used, table, bands)
    return np.asarray(np.sqrt(candidates**2 + offset**2 + exponent**2))


def between_candidates_sd_log(
    measured: AveragedMeasurements, used: pl.DataFrame, table: Floats, bands: tuple[str, ...]
) -> Floats:
    """[bands] sd of the log of the level between candidates, weighed by the posterior over candidates.

    used    the pairings the levels are learned from, filed by `bands`; all of them measured
    table   [pairings] the table's factor at each one's weight, mg/dL per g

    Each candidate's level is the precision-weighted mean of its factors over the table's, with the table as prior. That
    is close enough to the model of the levels to say how far the candidates lie apart.
    """
    if used.height == 0:
        return np.zeros(len(bands))
    place = measured.frame.select("first_dose_utc").with_row_index("place")
    at = used.join(place, on="first_dose_utc", how="left", maintain_order="left")["place"].to_numpy()
    share = _shares(used, table, bands)
    prior = 1.0 - share.sum(axis=1)
    level = np.log(np.maximum(prior + (measured.factors[:, at] / table) @ share.T, LEAST_RATIO))
    return np.asarray(np.sqrt(measured.weights @ (level - measured.weights @ level) ** 2))


def offset_sd_log(
    offset_sd_mg_dl: float, used: pl.DataFrame, table: Floats, bands: tuple[str, ...], levels: Floats
) -> Floats:
    """[bands] sd of the log of the level from a path that is off by the same in every rise.

    levels   [bands] log ratios to the table
    """
    grams = np.maximum(used["grams"].cast(pl.Float64).fill_null(np.inf).to_numpy(), LEAST_GRAMS)
    return np.asarray(offset_sd_mg_dl * (_shares(used, table, bands) @ (1.0 / (grams * table))) / np.exp(levels))


def exponent_sd_log(exponent_sd: float, used: pl.DataFrame, table: Floats, bands: tuple[str, ...]) -> Floats:
    """[bands] sd of the log of the level from the exponent; it grows as usual and reference amount lie apart."""
    weight_kg = used["weight_kg"].cast(pl.Float64).to_numpy()
    grams = used["grams"].cast(pl.Float64).fill_null(np.nan).to_numpy()
    relative = np.nan_to_num(np.log(np.maximum(grams, LEAST_GRAMS) / (REFERENCE_GRAMS_PER_KG * weight_kg)))
    return np.asarray(exponent_sd * np.abs(_shares(used, table, bands) @ relative))


def _shares(used: pl.DataFrame, table: Floats, bands: tuple[str, ...]) -> Floats:
    """[bands, treatments] how far each treatment counts in a band's level, about; the rest to 1 is the table's."""
    noise = used["factor_sd_mg_dl_per_g"].to_numpy() / table
    precision = 1.0 / (noise**2 + EVENT_SD_LOG**2)
    prior = 1.0 / (PERSON_SD_LOG**2 + BAND_SD_LOG**2)
    mine = np.array([np.where((used["band"] == band).to_numpy(), precision, 0.0) for band in bands])
    return np.asarray(mine / (prior + mine.sum(axis=1, keepdims=True)))
