"""A person's used pairings as evidence on the levels: arrays in event order."""

from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.bands import TimeBand, band_expression
from gramrise.domain.person import Person, band_there
from gramrise.domain.reasons import REASONS, Effect, Verdict
from gramrise.domain.starting import STARTING_TABLES
from gramrise.estimate.settings import EstimateSettings

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

# Reasons that are handled elsewhere: a change of delivery loosens the levels, and logged insulin pulls on the untreated
# path as a covariate whose uncertainty is in the treatment's variance.
_FRESH_START: Final = "delivery_changed"
_INSULIN: Final = "insulin_near"
EVIDENCE_COLUMNS: Final = ("ratio", "ratio_sd", "ratio_per_mg_dl", "band", "week", "delivery_changes")


@dataclass(frozen=True, slots=True)
class Evidence:
    """Used treatments as measurements of the levels, in event order; arrays [treatments].

    ratio, ratio_sd   measured factor over the starting table's at that day's weight, and its noise (> 0)
    ratio_per_mg_dl   what one mg/dL of path bias adds to the ratio: 1 / (grams x the table's factor)
    band              number of the band, 0..bands-1
    week              number of the week, whole weeks of local days since 1970-01-01
    delivery_changes  changes of insulin delivery before it
    """

    ratio: Floats
    ratio_sd: Floats
    ratio_per_mg_dl: Floats
    band: Whole
    week: Whole
    delivery_changes: Whole

    def __len__(self) -> int:
        return len(self.ratio)

    def part(self, chosen: slice) -> "Evidence":
        return Evidence(*(getattr(self, name)[chosen] for name in EVIDENCE_COLUMNS))


# Our choice: the path bias of smaller amounts is capped here, as they tell so little.
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

        Where the bands never changed, the band that detect found is kept: it knew the zone of each day.
        """
        if len(person.bands.entries) == 1 and treatments["band"].is_in(self.names).all():
            return treatments
        if len(person.zone.entries) == 1:
            return treatments.with_columns(band=band_expression("first_dose_utc", person.zone_now(), self.bands))
        given = treatments["first_dose_utc"].to_list()
        names = [band_there(person.zone, at, self.bands).name for at in given]
        return treatments.with_columns(band=pl.Series(names, dtype=pl.String))


def table_factor(person: Person, pairings: pl.DataFrame) -> Floats:
    """The starting table's factor at each pairing's weight, mg/dL per g, [pairings]; NaN where no weight is known."""
    table = STARTING_TABLES[person.starting_table]
    return np.asarray(table.k_mg_dl_kg_per_g / pairings["weight_kg"].cast(pl.Float64).fill_null(np.nan).to_numpy())


def evidence_of(
    person: Person, pairings: pl.DataFrame, bands: Bands, settings: EstimateSettings
) -> tuple[pl.DataFrame, Evidence]:
    """The used pairings that have a factor and a weight, in event order, and their evidence on the levels.

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
    """The frame with `factor_sd_mg_dl_per_g` calibrated, and widened by each reason and each further dose.

    A further dose was given because the level did not come up, from strong insulin or a poor response; one treatment
    alone cannot tell which. Such treatments stay in, since leaving them out would keep the good responders.
    """
    reasons_n = widening_reasons(pairings["reasons"], pairings["insulin_on_board_units"].is_not_null())
    times = pl.Series(settings.levels.measured_sd_times * settings.levels.widen_variance_times ** (reasons_n / 2.0))
    further = (pl.col("doses_n") - 1).clip(0, settings.levels.further_doses_counted)
    times = times * pairings.select(settings.levels.further_dose_sd_times**further).to_series()
    return pairings.with_columns(factor_sd_mg_dl_per_g=pl.col("factor_sd_mg_dl_per_g") * times)


def widening_reasons(reasons: pl.Series, insulin_known: pl.Series) -> Floats:
    """The number of reasons that widen each treatment's own variance.

    reasons        List[str], codes of domain.reasons
    insulin_known  bool, rapid insulin is logged around it
    returns        [treatments]
    """
    counted = []
    for codes, known in zip(reasons.to_list(), insulin_known.to_list(), strict=True):
        passed_over = {_FRESH_START, _INSULIN} if known else {_FRESH_START}
        counted.append(sum(REASONS[code].effect is Effect.WIDEN and code not in passed_over for code in codes or ()))
    return np.array(counted, dtype=float)


def delivery_changes(person: Person) -> list[date]:
    """Local dates on which insulin delivery changed; the first entry is no change."""
    entries = person.delivery.entries
    return [on for (_, before), (on, after) in pairwise(entries) if after != before]
