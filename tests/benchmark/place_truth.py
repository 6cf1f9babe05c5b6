"""Container counts of virtual families whose school wrote nothing down, beside what was really taken and when."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta

import numpy as np
import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from cohorts import Part

from gramrise.domain.counts import ContainerCount
from gramrise.domain.findings import Inputs
from gramrise.domain.frames import FACTORS
from gramrise.domain.sources import AmountUnit
from gramrise.place import PlacedCount, PlaceSettings, place_count

# A tin that is counted after school, and one that is counted in the evening.
INTERVALS = {"school day": (time(8), time(16)), "whole day": (time(7), time(22))}
SILENT_SHARE = 0.5  # of the days on which pieces were taken: nobody wrote anything down
SHARED_SHARE = 0.10  # of the intervals: a sibling or a friend had one or two pieces
FACTOR_SD_LOG = 0.2  # how well the factor is known after a few treatments
NEAR = timedelta(minutes=40)  # what was taken so close to a recovery belongs to it
LEAST_SD_LOG = 0.01
SD_LOG = "sd_log"


@dataclass(frozen=True, slots=True)
class Case:
    """One count and the laying that is true: pieces at each recovery, and pieces at none."""

    physiology: str
    interval: str
    placed: PlacedCount
    truth: tuple[int, ...]
    elsewhere: int
    inputs: Inputs  # with nothing logged in the interval
    exact: pl.DataFrame  # FACTORS as they truly are

    def laid_by(self, rules: PlaceSettings) -> "Case":
        """The same count laid by whoever knows the person's factor exactly, and has these settings."""
        return replace(self, placed=place_count(self.placed.count, self.inputs, self.exact, rules))


def cases(part: Part, rules: PlaceSettings) -> Iterator[Case]:
    """The counts of one part's persons, on days whose log is silent; only those with unlogged pieces."""
    for number, inputs in enumerate(part.made.inputs):
        rng = np.random.default_rng([part.seed, number])
        mine = part.made.truth_doses.filter(pl.col("person_id") == inputs.person.person_id)
        factors, exact = _factors(part, inputs, rng, FACTOR_SD_LOG), _factors(part, inputs, rng, 0.0)
        source = next(each for each in inputs.person.sources_now() if each.unit is AmountUnit.PIECE)
        zone = inputs.person.zone_now()
        taken = mine.filter(pl.col("source") == source.name)
        days = sorted({at.astimezone(zone).date() for at in taken["taken_at_utc"]})
        for day in days:
            if rng.random() >= SILENT_SHARE:
                continue
            interval = list(INTERVALS)[int(rng.integers(len(INTERVALS)))]
            begin, end = INTERVALS[interval]
            from_utc, to_utc = (datetime.combine(day, at, zone).astimezone(UTC) for at in (begin, end))
            inside = (pl.col("taken_at_utc") >= from_utc) & (pl.col("taken_at_utc") < to_utc)
            given = [
                (r["taken_at_utc"], round(r["grams"] / source.glucose_per_unit_g))
                for r in taken.filter(inside).to_dicts()
            ]
            shared = int(rng.integers(1, 3)) if rng.random() < SHARED_SHARE else 0
            gone = sum(pieces for _, pieces in given) + shared
            if not gone:
                continue
            count = ContainerCount(inputs.person.person_id, "tin", source.name, from_utc, to_utc, gone + 5, 5)
            silent = _silent(inputs, from_utc, to_utc)
            placed = place_count(count, silent, factors, rules)
            truth = [0] * len(placed.recoveries)
            elsewhere = shared
            for at, pieces in given:
                near = [(abs(each.at_utc - at), nth) for nth, each in enumerate(placed.recoveries)]
                if near and min(near)[0] <= NEAR:
                    truth[min(near)[1]] += pieces
                else:
                    elsewhere += pieces
            yield Case(part.physiology, interval, placed, tuple(truth), elsewhere, silent, exact)


def _silent(inputs: Inputs, from_utc: datetime, to_utc: datetime) -> Inputs:
    """The same person, with no glucose logged in the interval."""
    at = pl.col("taken_at_utc")
    return replace(inputs, doses=inputs.doses.filter((at < from_utc) | (at >= to_utc)))


def _factors(part: Part, inputs: Inputs, rng: np.random.Generator, sd_log: float) -> pl.DataFrame:
    """The true factors of a person's bands, known to so much: `FACTOR_SD_LOG` is as after a few treatments."""
    bands = part.made.truth_bands.filter(pl.col("person_id") == inputs.person.person_id)
    rows = [
        {
            **dict.fromkeys(FACTORS.schema),
            "person_id": row["person_id"],
            "band": row["band"],
            "factor_mg_dl_per_g": row["true_factor_mg_dl_per_g"] * float(np.exp(sd_log * rng.standard_normal())),
            SD_LOG: max(sd_log, LEAST_SD_LOG),
        }
        for row in bands.to_dicts()
    ]
    return pl.DataFrame(rows, schema=FACTORS.schema)
