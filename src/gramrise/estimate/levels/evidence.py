"""What a person's used pairings say about the levels, as arrays in event order."""

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.bands import TimeBand, band_expression
from gramrise.domain.person import Person
from gramrise.domain.reasons import Verdict
from gramrise.domain.starting import STARTING_TABLES
from gramrise.estimate.answer.state import delivery_changes
from gramrise.estimate.answer.systematic_uncertainty import widening_reasons
from gramrise.estimate.levels.level_model import Evidence
from gramrise.estimate.settings import EstimateSettings

Floats = NDArray[np.float64]


# Our choice: a smaller amount tells so little that its path bias need not be told apart.
LEAST_GRAMS: Final = 0.5


@dataclass(frozen=True, slots=True)
class Bands:
    """The person's present time bands; a treatment is filed under the one that holds its first dose."""

    bands: tuple[TimeBand, ...]

    @classmethod
    def of(cls, person: Person) -> "Bands":
        return cls(person.bands_now())

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(band.name for band in self.bands)

    def filed(self, person: Person, treatments: pl.DataFrame) -> pl.DataFrame:
        """The frame with `band` by the present bands, so that a change of bands files old treatments anew.

        Where the bands never changed, what detect filed stands: it knew the zone of each day.
        """
        if len(person.bands.entries) == 1 and treatments["band"].is_in(self.names).all():
            return treatments
        return treatments.with_columns(band=band_expression("first_dose_utc", person.zone_now(), self.bands))


def table_factor(person: Person, pairings: pl.DataFrame) -> Floats:
    """The starting table's factor at each pairing's weight, mg/dL per g, [pairings]; NaN where no weight is known."""
    table = STARTING_TABLES[person.starting_table]
    return np.asarray(table.k_mg_dl_kg_per_g / pairings["weight_kg"].cast(pl.Float64).fill_null(np.nan).to_numpy())


def evidence_of(
    person: Person, pairings: pl.DataFrame, bands: Bands, settings: EstimateSettings
) -> tuple[pl.DataFrame, Evidence]:
    """The used pairings that have a factor and a weight, in event order, and what they say about the levels.

    pairings  PAIRINGS of one person; `factor_sd_mg_dl_per_g` already widened by its reasons
    returns   (those pairings, filed by the present bands; Evidence of as many rows)
    """
    measured = pl.col("factor_mg_dl_per_g").is_not_null() & pl.col("weight_kg").is_not_null()
    used = pairings.filter((pl.col("verdict") == Verdict.USED) & measured)
    used = bands.filed(person, used).sort("first_dose_utc")
    table = table_factor(person, used)
    days = used["first_dose_utc"].dt.convert_time_zone(person.zone_now().key).dt.date()
    ratio = used["factor_mg_dl_per_g"].to_numpy() / table
    sd = used["factor_sd_mg_dl_per_g"].to_numpy() / table
    grams = used["grams"].cast(pl.Float64).to_numpy()
    changes = np.array(sorted(delivery_changes(person)), dtype="datetime64[D]")
    evidence = Evidence(
        ratio=ratio,
        ratio_sd=np.maximum(sd, settings.levels.least_measurement_sd_part * np.maximum(np.abs(ratio), 1e-3)),
        ratio_per_mg_dl=1.0 / (np.maximum(grams, LEAST_GRAMS) * table),
        band=np.array([bands.names.index(name) for name in used["band"].to_list()], dtype=np.int64),
        week=np.array([week_of(day) for day in days.to_list()], dtype=np.int64),
        delivery_changes=np.searchsorted(changes, days.to_numpy().astype("datetime64[D]"), side="right").astype(
            np.int64
        ),
    )
    return used, evidence


def week_of(day: date) -> int:
    """Number of the week of a local date, counted from 1970-01-01."""
    return (day - date(1970, 1, 1)).days // 7


def widened(pairings: pl.DataFrame, settings: EstimateSettings) -> pl.DataFrame:
    """The frame with `factor_sd_mg_dl_per_g` calibrated, widened by the pairings' reasons and by each further dose.

    A further dose was given because the level did not come up: strong insulin or a poor response, which one treatment
    alone cannot tell apart. Such treatments stay in (leaving them out would keep the good responders) but weigh less.
    """
    reasons_n = widening_reasons(pairings["reasons"], pairings["insulin_on_board_units"].is_not_null())
    times = pl.Series(settings.levels.measured_sd_times * settings.levels.widen_variance_times ** (reasons_n / 2.0))
    further = (pl.col("doses_n") - 1).clip(0, settings.levels.further_doses_counted)
    times = times * pairings.select(settings.levels.further_dose_sd_times**further).to_series()
    return pairings.with_columns(factor_sd_mg_dl_per_g=pl.col("factor_sd_mg_dl_per_g") * times)
