"""Doubt that all treatments of a person share: which path and which shape are right is one question for all of them.

A treatment measured by the wrong candidate is wrong the same way as the next one, so this does not average out. How far
a band's level would move if one candidate or another were the right one is its sd here, small where the candidates
agree or the person's treatments have chosen, large where neither is so.
"""

from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.starting import BAND_SD_LOG, EVENT_SD_LOG, PERSON_SD_LOG
from gramrise.estimate.treatment.model_averaging import AveragedMeasurements

Floats = NDArray[np.float64]

# A level is never taken for lower than this part of the table: our choice, only so that its logarithm stands.
LEAST_RATIO: Final = 0.05


def between_candidates_sd_log(
    measured: AveragedMeasurements, used: pl.DataFrame, table: Floats, bands: tuple[str, ...]
) -> Floats:
    """[bands] sd of the log of the level between the candidates, each weighed as the person's treatments say.

    used    the pairings the levels are learned from, filed by `bands`; all of them measured
    table   [pairings] the table's factor at each one's weight, mg/dL per g

    Each candidate's level is the precision-weighted mean of its factors over the table's, the table itself counting as
    the prior does: close enough to what the levels' own model makes of them to say how far they lie apart.
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
