"""What a sensor makes of the tissue's level: lag is in the level, here come error, dips, gaps, changes and range."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.frames import READINGS
from gramrise.domain.words import Range
from virtual.days import DAY, Days
from virtual.hovorka import Floats
from virtual.settings import SensorSettings

DIP_SHAPES: Final = ("filtered", "slanted", "ragged")


@dataclass(frozen=True, slots=True)
class Sensed:
    """Readings as their contract says; minutes at which sensors began; dips as (minute, minutes, deepest mg/dL)."""

    readings: pl.DataFrame
    begun: tuple[int, ...]
    dips: tuple[tuple[int, int, float], ...]


def sense(
    rng: np.random.Generator, person_id: str, tissue_mg_dl: Floats, days: Days, step: int, dip_shape: str,
    ours: SensorSettings,
) -> Sensed:  # fmt: skip
    """Readings every `step` minutes of a tissue level given by minute."""
    n = tissue_mg_dl.size
    at = np.arange(int(rng.integers(step)), n, step)
    begun = _changes(rng, n, ours.days_15_min if step >= 15 else ours.days_5_min)
    which = np.searchsorted(np.array(begun), at, side="right") - 1
    gain = 1.0 + ours.gain_sd * rng.standard_normal(len(begun))
    offset = ours.offset_sd_mg_dl * rng.standard_normal(len(begun))
    dips, dipped = _dips(rng, days, dip_shape, ours)
    # A new sensor errs more in its first day (our choice: half as much again, fading over 12 hours).
    fresh = 1.0 + 0.5 * np.exp(-(at - np.array(begun)[which]) / (DAY / 2))
    noise = fresh * (_coloured(rng, at.size, step, ours) + ours.white_sd_mg_dl * rng.standard_normal(at.size))
    # 100 mg/dL is where a sensor's gain error neither lifts nor lowers (our choice).
    shown = 100.0 + gain[which] * (tissue_mg_dl[at] - 100.0) + offset[which] + noise - dipped[at]
    kept = ~_missing(rng, n, begun, ours)[at]
    return Sensed(_frame(person_id, at[kept], shown[kept], days, ours), begun, dips)


def _coloured(rng: np.random.Generator, size: int, step: int, ours: SensorSettings) -> Floats:
    keep = float(np.exp(-step / ours.noise_time_min))
    draws = ours.noise_sd_mg_dl * np.sqrt(1.0 - keep**2) * rng.standard_normal(size)
    noise = np.empty(size)
    before = ours.noise_sd_mg_dl * float(rng.standard_normal())
    for i in range(size):
        before = keep * before + draws[i]
        noise[i] = before
    return noise


def _changes(rng: np.random.Generator, n: int, days: int) -> tuple[int, ...]:
    """Minutes at which sensors begin; the first began before the record."""
    begun, at = [], -int(rng.integers(days * DAY))
    while at < n:
        begun.append(at)
        at += days * DAY + round(180 * float(rng.standard_normal()))
    return tuple(begun)


def _missing(rng: np.random.Generator, n: int, begun: tuple[int, ...], ours: SensorSettings) -> NDArray[np.bool_]:
    missing = np.zeros(n, dtype=bool)
    for at in begun:
        missing[max(0, at) : max(0, at + ours.warm_up_min)] = True
    for _ in range(int(rng.poisson(ours.gaps_per_day * n / DAY))):
        at = int(rng.integers(n))
        missing[at : at + round(ours.gap_median_min * float(np.exp(ours.gap_sd_log * rng.standard_normal())))] = True
    return missing


def _dips(
    rng: np.random.Generator, days: Days, shape: str, ours: SensorSettings
) -> tuple[tuple[tuple[int, int, float], ...], Floats]:
    """The dips, and mg/dL by which they lower what is shown, by minute."""
    nights = int(days.local_day[-1]) + 1
    asleep = np.flatnonzero(~days.awake)
    lowered = np.zeros(days.minutes)
    dips = []
    for _ in range(int(rng.poisson(ours.dips_per_night * nights))):
        at = int(asleep[int(rng.integers(asleep.size))])
        minutes = round(ours.dip_minutes * float(np.exp(ours.dip_minutes_sd_log * rng.standard_normal())))
        depth = ours.dip_depth_mg_dl * float(np.exp(ours.dip_depth_sd_log * rng.standard_normal()))
        course = dip_course(shape, minutes, depth, ours, rng)[: days.minutes - at]
        lowered[at : at + course.size] += course
        dips.append((at, minutes, depth))
    return tuple(sorted(dips)), lowered


def dip_course(shape: str, minutes: int, depth: float, ours: SensorSettings, rng: np.random.Generator) -> Floats:
    """mg/dL by which one dip lowers each minute, its slow return included.

    filtered  a rectangle through a first-order filter, sharp down and slower back (Facchinetti 2016)
    slanted   sinks in a straight line all the while and springs back (outside that family)
    ragged    filtered, with the pressure let go for short whiles
    """
    after = round(5 * ours.dip_return_min)
    pressed = np.r_[np.ones(minutes), np.zeros(after)]
    if shape == "slanted":
        course: Floats = depth * np.r_[np.linspace(0.1, 1.0, minutes), np.exp(-np.arange(after) / ours.dip_fall_min)]
        return course
    if shape == "ragged":
        pressed[:minutes] = np.repeat(rng.random(minutes // 6 + 1) < 0.75, 6)[:minutes]
    lowered, course = 0.0, np.empty(pressed.size)
    for i, wanted in enumerate(depth * pressed):
        lowered += (wanted - lowered) / (ours.dip_fall_min if wanted > lowered else ours.dip_return_min)
        course[i] = lowered
    return course


def _frame(person_id: str, at: NDArray[np.int64], shown: Floats, days: Days, ours: SensorSettings) -> pl.DataFrame:
    start = days.start_utc.replace(tzinfo=None)
    offsets = (days.local_minute[at] - at - start.hour * 60 - start.minute) % DAY
    frame = pl.DataFrame(
        {
            "person_id": [person_id] * at.size,
            "at_utc": [start + timedelta(minutes=int(m)) for m in at],
            "glucose_mg_dl": np.clip(np.round(shown), ours.lowest_mg_dl, ours.highest_mg_dl),
            "range": np.where(
                np.round(shown) < ours.lowest_mg_dl,
                Range.BELOW.value,
                np.where(np.round(shown) > ours.highest_mg_dl, Range.ABOVE.value, Range.IN.value),
            ),
            "offset_minutes": np.where(offsets > DAY // 2, offsets - DAY, offsets).astype(np.int32),
        }
    )
    return READINGS.check(frame.with_columns(pl.col("at_utc").cast(pl.Datetime("us")).dt.replace_time_zone("UTC")))
