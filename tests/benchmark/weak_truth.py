"""Pairs of sources of virtual persons, one of which gives less than is written on it, judged as the program does."""

from dataclasses import replace
from datetime import timedelta
from math import log, sqrt
from statistics import NormalDist

import numpy as np
import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from cohorts import Part

from gramrise.detect import detect
from gramrise.domain.frames import PAIRINGS
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.starting import EVENT_SD_LOG
from gramrise.estimate import estimate, estimate_settings
from gramrise.place import WeakGlucose, weak_glucose
from gramrise.place.settings import PlaceSettings

WEAK_RATIO = 0.909
USES = 60
LEAST_OTHERS = 30
DRAWS = 6  # ways to share a person's treatments among two sources
ONE_SIDED_5_PERCENT = 1.645

# (false alarm, found, sd of the log ratio, uses of the other glucose)
Judged = tuple[bool, bool, float, int]


def judged(made: list[Part], rules: PlaceSettings) -> list[Judged]:
    """Every draw of every person with enough used pairings; the same treatments with right and with weak glucose."""
    found, settings = [], estimate_settings()
    for part in made:
        for number, inputs in enumerate(part.made.inputs):
            now = inputs.readings["at_utc"][-1] + timedelta(minutes=1)
            seen = detect(inputs, now)
            pairings = estimate(inputs, seen.screened, seen.lows, now, settings).pairings
            used = pairings.filter((pl.col("verdict") == "used") & pl.col("factor_mg_dl_per_g").is_not_null())
            rng = np.random.default_rng([part.seed, number])
            for _ in range(DRAWS if used.height >= USES + LEAST_OTHERS else 0):
                mine = np.zeros(used.height, dtype=bool)
                mine[rng.choice(used.height, USES, replace=False)] = True
                right, weak = (_one(used, mine, inputs.person, ratio, rules) for ratio in (1.0, WEAK_RATIO))
                if right is not None and weak is not None and right.uses >= 0.8 * USES:
                    sd = log(right.high_ratio / right.low_ratio) / (2 * ONE_SIDED_5_PERCENT)
                    found.append((right.weak, weak.weak, sd, right.others))
    return found


def _one(
    used: pl.DataFrame, mine: np.ndarray, person: Person, ratio: float, rules: PlaceSettings
) -> WeakGlucose | None:
    """The verdict on the source that `mine` are from, its rises as of `ratio` of the glucose written."""
    rises = pl.Series(np.where(mine, ratio, 1.0))
    named = PAIRINGS.check(
        used.with_columns(
            sources=pl.Series([["new"] if new else ["old"] for new in mine]),
            factor_mg_dl_per_g=pl.col("factor_mg_dl_per_g") * rises,
        )
    )
    sources = tuple(Source(name, Form.TABLET, 1.0, stated_as=StatedAs.ANHYDROUS) for name in ("new", "old"))
    stated = _with(person, sources)
    return next((each for each in weak_glucose(named, stated, (), rules) if each.source == "new"), None)


def _with(person: Person, sources: tuple[Source, ...]) -> Person:
    return replace(person, sources=Dated(((person.born, sources),)))


def found_at_sixty_ideal(others: list[int]) -> float:
    """How often one look at 60 uses could find it where every rise is known exactly and only scatters as published."""
    power = [
        NormalDist().cdf(-log(WEAK_RATIO) / (EVENT_SD_LOG * sqrt(1 / USES + 1 / many)) - ONE_SIDED_5_PERCENT)
        for many in others
    ]
    return float(np.mean(power))
