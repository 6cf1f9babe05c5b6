"""The FACTORS frame: each band's number, its 90 % interval with all uncertainty, and its state."""

from datetime import date, datetime

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.frames import FACTORS
from gramrise.domain.person import Person
from gramrise.domain.starting import STARTING_TABLES
from gramrise.estimate.answer.state_rules import BandEvidence, state_of_band
from gramrise.estimate.answer.systematic_uncertainty import (
    insulin_is_logged,
    interval_90,
    systematic_sd_log,
    total_sd_log,
)
from gramrise.estimate.body_weight import weight_on
from gramrise.estimate.levels import BandLevels, Bands
from gramrise.estimate.settings import EstimateSettings


def factors_frame(
    person: Person,
    as_of_utc: datetime,
    day: date,
    bands: Bands,
    levels: BandLevels,
    used: pl.DataFrame,
    predictions: pl.DataFrame,
    settings: EstimateSettings,
    shared_sd_log: NDArray[np.float64] | None = None,
    unnoticed_low: bool = False,
) -> pl.DataFrame:
    """FACTORS, one row a band.

    day   local date of `as_of_utc`
    used  the pairings the levels were learned from, filed by the present bands
    shared_sd_log  [bands] sd of log that all treatments of a person share; None: nothing but the rest in the settings
    unnoticed_low  a deep low lately that nobody noticed: no number is called the person's own then
    """
    weight_kg = weight_on(person, day)
    k = STARTING_TABLES[person.starting_table].k_mg_dl_kg_per_g
    rest = systematic_sd_log(insulin_is_logged(used, settings.doubt), settings.doubt)
    lasting = np.hypot(rest, np.zeros(len(bands.names)) if shared_sd_log is None else shared_sd_log)
    sd_log = total_sd_log(levels.sd, lasting)
    adjusted = k * np.exp(levels.mean)
    low, high = interval_90(adjusted, sd_log)
    zone = person.zone_now().key
    rows = []
    for i, name in enumerate(bands.names):
        mine = used.filter(pl.col("band") == name)
        evidence = BandEvidence(
            used_dates=mine["first_dose_utc"].dt.convert_time_zone(zone).dt.date().to_list(),
            interval_ratio=float(high[i] / low[i]),
            predictions=predictions.join(mine.select("first_dose_utc"), on="first_dose_utc", how="semi"),
            unnoticed_low=unnoticed_low,
        )
        rows.append(
            {
                "person_id": person.person_id,
                "band": name,
                "as_of_utc": as_of_utc,
                "weight_kg": weight_kg,
                "factor_mg_dl_per_g": _per_kg(adjusted[i], weight_kg),
                "p05_factor_mg_dl_per_g": _per_kg(low[i], weight_kg),
                "p95_factor_mg_dl_per_g": _per_kg(high[i], weight_kg),
                "starting_mg_dl_per_g": _per_kg(k, weight_kg),
                "weight_adjusted_mg_dl_kg_per_g": float(adjusted[i]),
                "pairings_used": mine.height,
                "state": state_of_band(person, day, evidence, settings.state).value,
                "sd_log": float(sd_log[i]),
                "sd_log_lasting": float(np.hypot(lasting[i], levels.sd_of_bias[i])),
                "event_sd_log": levels.event_sd_log,
            }
        )
    return FACTORS.check(pl.DataFrame(rows, schema=FACTORS.schema))


def _per_kg(adjusted: float, weight_kg: float | None) -> float | None:
    return None if weight_kg is None else float(adjusted) / weight_kg
