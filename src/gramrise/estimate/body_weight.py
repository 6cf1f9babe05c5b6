"""Body weight on any day: weighings, carried along the person's own growth percentile between them.

The rise factor is taken to fall as 1 / weight (an assumption, stated in METHOD.md), so each treatment needs the weight
of its day. A child's weighing becomes a z-score of the growth reference; the z-score is carried (between two weighings
in a straight line from one to the next, before the first and after the last unchanged) and turned back into kg at
the age in question. So one weight stated today serves months of history.
"""

import csv
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.person import Person

DAYS_IN_A_MONTH: Final = 365.25 / 12
# The reference ends at 20 years; from then on the last weight is carried unchanged.
REFERENCE_ENDS_MONTHS: Final = 240.0
# Days of the reference begin here; an integer day number makes a weight a function of one number.
_EPOCH: Final = date(1970, 1, 1)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class GrowthReference:
    """L, M (kg) and S of weight for age over age in months, one sex; each array [ages]."""

    age_months: Floats
    l: Floats  # noqa: E741  the published name
    m_kg: Floats
    s: Floats

    def at(self, age_months: Floats) -> tuple[Floats, Floats, Floats]:
        """L, M, S at ages in months, straight lines between the table's rows; held at both ends."""
        columns = (self.l, self.m_kg, self.s)
        lines = [np.interp(age_months, self.age_months, column) for column in columns]
        return lines[0], lines[1], lines[2]

    def z_score(self, kg: Floats, age_months: Floats) -> Floats:
        """How many standard deviations a weight lies from the median of its age (Cole's LMS method, 1990)."""
        l, m, s = self.at(age_months)  # noqa: E741
        return np.asarray((np.power(kg / m, l) - 1.0) / (l * s))

    def weight_kg(self, z: Floats, age_months: Floats) -> Floats:
        """The weight of a z-score at an age, kg. Beyond the curve's end (1 + l s z <= 0) it is held at the end."""
        l, m, s = self.at(age_months)  # noqa: E741
        return np.asarray(m * np.power(np.maximum(1.0 + l * s * z, 1e-3), 1.0 / l))


@cache
def growth_references() -> dict[str, GrowthReference]:
    """The shipped reference: "boy" and "girl"."""
    text = (files("gramrise.config") / "growth_weight_for_age.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    found = {}
    for sex in ("boy", "girl"):
        own = [row for row in rows if row["sex"] == sex]
        columns = [np.array([float(row[name]) for row in own]) for name in ("age_months", "l", "m_kg", "s")]
        found[sex] = GrowthReference(*columns)
    return found


def references_for(sex: str) -> tuple[GrowthReference, ...]:
    """The reference of a sex, or both where it is not known (their results are then averaged)."""
    known = growth_references()
    return (known[sex],) if sex in known else tuple(known.values())


def weights_on(person: Person, days: list[date]) -> Floats:
    """Body weight on local dates, kg; NaN where the person was never weighed. Shape [days], in their order."""
    wanted = np.array([(day - _EPOCH).days for day in days], dtype=float)
    weighed = person.weights_kg.entries
    if not weighed or not days:
        return np.full(len(days), np.nan)
    weighed_days = np.array([(day - _EPOCH).days for day, _ in weighed], dtype=float)
    weighed_kg = np.array([kg for _, kg in weighed], dtype=float)
    return _carried(person, wanted, weighed_days, weighed_kg)


def weight_on(person: Person, day: date) -> float | None:
    """Body weight on a local date, kg; None where the person was never weighed."""
    kg = float(weights_on(person, [day])[0])
    return None if np.isnan(kg) else kg


def with_weights(person: Person, screened: pl.DataFrame) -> pl.DataFrame:
    """The frame with a column weight_kg f64 (null where unknown): the weight on the local day of `first_dose_utc`."""
    zone = person.zone_now().key
    days = screened["first_dose_utc"].dt.convert_time_zone(zone).dt.date().to_list()
    column = pl.Series("weight_kg", weights_on(person, days), dtype=pl.Float64)
    return screened.with_columns(column.fill_nan(None))


def growth_ratio(person: Person, earlier: date, later: date) -> float | None:
    """Factor at the later date over factor at the earlier one that growth alone explains; None without both weights."""
    before, after = weight_on(person, earlier), weight_on(person, later)
    return None if before is None or after is None else before / after


def _carried(person: Person, wanted: Floats, weighed_days: Floats, weighed_kg: Floats) -> Floats:
    """Weights at day numbers `wanted`, kg: the z-score in a straight line between weighings, then held."""
    born = float((person.born - _EPOCH).days)
    ages, weighed_ages = (
        np.clip((days - born) / DAYS_IN_A_MONTH, 0.0, REFERENCE_ENDS_MONTHS) for days in (wanted, weighed_days)
    )
    per_sex = []
    for reference in references_for(person.sex):
        z = np.interp(wanted, weighed_days, reference.z_score(weighed_kg, weighed_ages))
        per_sex.append(reference.weight_kg(z, ages))
    return np.asarray(np.mean(per_sex, axis=0))
