"""A source or a bottle whose glucose works clearly less than the person's other glucose. Asked about, never fed back.

Compared are weight-adjusted rises per gram of treatments from one source alone, within a time band and near in time.
Judged at three looks of 20, 40 and 60 uses with boundaries that spend 5 % false alarms over all three together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from math import exp, log, sqrt
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.mixtures import MixedBatch, Powder
from gramrise.domain.person import Person
from gramrise.domain.sources import Source, StatedAs
from gramrise.domain.starting import EVENT_SD_LOG
from gramrise.place.evidence import MAD_TO_SD, TAIL_DEGREES
from gramrise.place.settings import PlaceSettings

# One-sided boundaries of three equally spaced looks at 5 % in all, O'Brien and Fleming's: 1.710 sqrt(3 / look). Source:
# Jennison and Turnbull, Group Sequential Methods (2000), table 2.3, two-sided 10 %.
BOUNDARIES: Final = (2.962, 2.094, 1.710)
# Rounds after which middle and spread stand still; a spread below this share of the expected is chance.
ROUNDS: Final = 40
LEAST_SCALE: Final = 0.3


class WeakCause(StrEnum):
    """What may be the matter, the likeliest first."""

    MONOHYDRATE = "monohydrate"  # the powder or the label is monohydrate, counted as anhydrous: 9 % less
    OVERFILLED = "overfilled"  # more water than the recipe says
    OLD = "old"  # spoiled, settled, or pieces that crumbled
    LABEL = "label"  # the label was read wrongly: pieces, portion, per 100 g


@dataclass(frozen=True, slots=True)
class WeakGlucose:
    """One source or bottle against the person's other glucose."""

    source: str
    batch: int | None  # number of the bottle; None: the source as a whole
    uses: int  # treatments judged
    others: int  # treatments compared with
    ratio: float  # rise per gram against the other glucose
    low_ratio: float  # 90 % interval
    high_ratio: float
    probability_weak: float
    weak: bool  # beyond the boundary of its look
    causes: tuple[WeakCause, ...]


def weak_glucose(
    pairings: pl.DataFrame, person: Person, batches: Sequence[MixedBatch], rules: PlaceSettings
) -> list[WeakGlucose]:
    """Every source and bottle with enough uses and enough other glucose beside them, by source, bottles after it.

    pairings   PAIRINGS of the person
    """
    used = _comparable(pairings)
    found = []
    for source in person.sources_now():
        mine = sorted((each for each in batches if each.source == source.name), key=lambda each: each.mixed_at_utc)
        for bottle, when in [(None, pl.lit(True)), *_bottles(mine)]:
            each = _judged(used, pl.col("source") == source.name, when, rules)
            if each is not None:
                found.append(_finding(source, bottle, each))
    return found


def _bottles(mine: list[MixedBatch]) -> list[tuple[MixedBatch | None, pl.Expr]]:
    """Each bottle with when it was drawn from: until the next one was mixed."""
    at = pl.col("first_dose_utc")
    begun = [at >= each.mixed_at_utc for each in mine]
    ended = [*(at < each.mixed_at_utc for each in mine[1:]), pl.lit(True)]
    return [(each, begin & end) for each, begin, end in zip(mine, begun, ended, strict=False)]


@dataclass(frozen=True, slots=True)
class _Judged:
    uses: int
    others: int
    log_ratio: float
    sd: float
    weak: bool
    probability: float


def _comparable(pairings: pl.DataFrame) -> pl.DataFrame:
    """Used pairings of one source each, with the weight-adjusted rise per gram; in order of time."""
    known = pl.all_horizontal(pl.col("factor_mg_dl_per_g", "factor_sd_mg_dl_per_g", "weight_kg").is_not_null())
    one = (pl.col("sources").list.len() == 1) & (pl.col("verdict") == "used")
    return (
        pairings.filter(known & one)
        .select(
            "first_dose_utc",
            "band",
            source=pl.col("sources").list.first(),
            rise=pl.col("factor_mg_dl_per_g") * pl.col("weight_kg"),
            sd=pl.col("factor_sd_mg_dl_per_g") * pl.col("weight_kg"),
        )
        .sort("first_dose_utc")
    )


def _judged(used: pl.DataFrame, mine: pl.Expr, when: pl.Expr, rules: PlaceSettings) -> _Judged | None:
    """The latest look that the uses reach; None before the first look, or without other glucose to compare with.

    A look sees the first 20, 40 or 60 uses and the other glucose taken by then, whatever came later.
    """
    own, rest = used.filter(mine & when), used.filter(~mine)
    look = min(len(BOUNDARIES), own.height // rules.weak_uses_a_look)
    if look == 0:
        return None
    judged = None
    for nth in range(1, look + 1):
        ours = own.head(nth * rules.weak_uses_a_look)
        near = timedelta(days=rules.weak_near_days)
        first, last = ours["first_dose_utc"][0], ours["first_dose_utc"][-1]
        theirs = rest.filter(pl.col("first_dose_utc").is_between(first - near, last))
        compared = _compared(ours, theirs, rules)
        if compared is None:
            continue
        uses, others, ratio, sd = compared
        weak = (judged is not None and judged.weak) or ratio / sd < -BOUNDARIES[nth - 1]
        judged = _Judged(uses, others, ratio, sd, weak, _probability(ratio, sd, rules))
    return judged


def _compared(ours: pl.DataFrame, theirs: pl.DataFrame, rules: PlaceSettings) -> tuple[int, int, float, float] | None:
    """(uses, others, log ratio, its sd) over the bands in which both were given often enough."""
    weights, sums, uses, others = 0.0, 0.0, 0, 0
    for band in ours["band"].unique().sort():
        one, two = (each.filter(pl.col("band") == band) for each in (ours, theirs))
        if min(one.height, two.height) < rules.weak_least_in_a_band:
            continue
        (middle, error), (other, other_error) = (
            _location(each["rise"].to_numpy(), each["sd"].to_numpy()) for each in (one, two)
        )
        if middle <= 0 or other <= 0:
            continue
        variance = (error / middle) ** 2 + (other_error / other) ** 2
        weights += 1 / variance
        sums += log(middle / other) / variance
        uses, others = uses + one.height, others + two.height
    return None if weights == 0 else (uses, others, sums / weights, sqrt(1 / weights))


def _location(rises: np.ndarray, sds: np.ndarray) -> tuple[float, float]:
    """Middle of a sample and its standard error: by Student's t about it, the wider the less sure a rise was measured.

    One odd treatment moves it little; spreads are scaled by what the sample itself shows.
    """
    middle, scale = float(np.median(rises)), 1.0
    for _ in range(ROUNDS):
        spread = np.sqrt(sds**2 + (EVENT_SD_LOG * middle) ** 2)
        off = (rises - middle) / spread
        if scale == 1.0:
            scale = max(LEAST_SCALE, MAD_TO_SD * float(np.median(np.abs(off))))
        weights = (TAIL_DEGREES + 1) / (TAIL_DEGREES + (off / scale) ** 2)
        middle = float((weights * rises / spread**2).sum() / (weights / spread**2).sum())
        scale = max(LEAST_SCALE, float(np.sqrt((weights * ((rises - middle) / spread) ** 2).mean())))
    # Information of the location of Student's t: (degrees + 1) / (degrees + 3) a value.
    known = (TAIL_DEGREES + 1) / (TAIL_DEGREES + 3) * float((1 / (scale * spread) ** 2).sum())
    return middle, 1 / sqrt(known)


def _probability(log_ratio: float, sd: float, rules: PlaceSettings) -> float:
    """That the glucose is weak: as printed, against weaker by any share up to the most that is thought of."""
    grid = np.linspace(log(rules.weak_least_ratio), log(rules.weak_most_ratio), 60)
    weak = float(np.exp(-0.5 * ((log_ratio - grid) / sd) ** 2).mean())
    right = exp(-0.5 * (log_ratio / sd) ** 2)
    prior = rules.weak_prior
    return prior * weak / (prior * weak + (1 - prior) * right + 1e-300)


def _finding(source: Source, bottle: MixedBatch | None, each: _Judged) -> WeakGlucose:
    ends = [exp(each.log_ratio + sign * 1.645 * each.sd) for sign in (-1, 1)]
    return WeakGlucose(
        source=source.name,
        batch=None if bottle is None else bottle.number,
        uses=each.uses,
        others=each.others,
        ratio=exp(each.log_ratio),
        low_ratio=ends[0],
        high_ratio=ends[1],
        probability_weak=each.probability,
        weak=each.weak,
        causes=_causes(source, bottle),
    )


def _causes(source: Source, bottle: MixedBatch | None) -> tuple[WeakCause, ...]:
    """Causes that can apply: a bottle of monohydrate powder is counted so already."""
    mixed = not source.sealed
    taken_so = bottle is not None and bottle.mixture.powder is Powder.MONOHYDRATE
    maybe = not taken_so and (mixed or source.stated_as is not StatedAs.MONOHYDRATE)
    known = (
        (maybe, WeakCause.MONOHYDRATE),
        (mixed, WeakCause.OVERFILLED),
        (not mixed, WeakCause.LABEL),
        (True, WeakCause.OLD),
    )
    return tuple(cause for holds, cause in known if holds)
