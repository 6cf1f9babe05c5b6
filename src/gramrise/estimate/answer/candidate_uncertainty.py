"""Systematic uncertainty from the candidates: all treatments of a person share one path and one shape.

A wrong candidate errs the same way for every treatment, so its error does not average out. The sd here says how far a
band's level differs between candidates. It is small where they agree, or where the treatments have chosen one.
"""

from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.starting import BAND_SD_LOG, EVENT_SD_LOG, PERSON_SD_LOG
from gramrise.estimate.treatment import AveragedMeasurements

Floats = NDArray[np.float64]

# A level is never below this part of the table: our choice, so that its logarithm exists.
LEAST_RATIO: Final = 0.05


def between_candidates_sd_log(
    measured: AveragedMeasurements, used: pl.DataFrame, table: Floats, bands: tuple[str, ...]
) -> Floats:
    """[bands] sd of the log of the level between candidates, weighed by the posterior over candidates.

    used    the pairings the levels are learned from, filed by `bands`; all of them measured
    table   [pairings] the table's factor at each one's weight, mg/dL per g

    Each candidate's level is the precision-weighted mean of its factors over the table's, with the table as prior. That
    is close enough to the model of the levels to say how far the candidates lie apart.
    """
    sd = np.zeros(len(bands))
    if used.height == 0:
        return sd
    place = measured.frame.select("first_dose_utc").with_row_index("place")
    at = used.join(place, on="first_dose_utc", how="left", maintain_order="left")["place"].to_numpy()
    ratio = measured.factors[:, at] / table
    noise = used["factor_sd_mg_dl_per_g"].to_numpy() / table
    precision = 1.0 / (noise**2 + EVENT_SD_LOG**2)
    prior = 1.0 / (PERSON_SD_LOG**2 + BAND_SD_LOG**2)
    for number, band in enumerate(bands):
        mine = np.where((used["band"] == band).to_numpy(), precision, 0.0)
        level = np.log(np.maximum((prior + ratio @ mine) / (prior + mine.sum()), LEAST_RATIO))
        sd[number] = np.sqrt(measured.weights @ (level - measured.weights @ level) ** 2)
    return sd
