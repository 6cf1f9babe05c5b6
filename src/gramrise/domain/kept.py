"""What a night leaves for the next one: each treatment's own numbers and picture, as bytes only their makers read."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final, NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.frames import PATHS

Floats = NDArray[np.float64]

# The contract of PATHS: a point every five minutes, as sensors read.
PATH_STEP_MIN: Final = 5
# A picture is kept as the minute of its first point, then untreated path, its sd and the fit, each as float32: good to
# a ten-thousandth of a mg/dL.
_FIRST_MINUTE: Final = np.dtype("<i4")
_POINTS: Final = np.dtype("<f4")
_LINES: Final = 3
# Before any first dose, microseconds since 1970.
FROM_THE_FIRST: Final = -(2**62)


class KeptTreatment(NamedTuple):
    """One treatment as it is kept: identity, what it was computed from, and what came of that."""

    first_dose_us: int  # microseconds since 1970-01-01 00:00 UTC
    key: bytes
    numbers: bytes
    picture: bytes  # as `picture_of` packs it; empty: none can be drawn


@dataclass(frozen=True, slots=True)
class Kept:
    """What earlier nights left.

    until_utc   everything told of the time before is as it was then: earlier of that night and of the first change
    treatments  in order of time (key, numbers) by first dose, microseconds since 1970
    """

    until_utc: datetime
    treatments: Mapping[int, tuple[bytes, bytes]]


@dataclass(frozen=True, slots=True)
class ToKeep:
    """How what is kept has to change: treatments before `from_us` stay, all others give way to `treatments`."""

    from_us: int = FROM_THE_FIRST
    treatments: tuple[KeptTreatment, ...] = field(default_factory=tuple)


def picture_of(first_minute: int, untreated: Floats, sd: Floats, fitted: Floats) -> bytes:
    """A treatment's path as bytes: points every five minutes from `first_minute` after the first dose on, [points]."""
    lines = np.stack([untreated, sd, fitted]).astype(_POINTS)
    return np.array(first_minute, dtype=_FIRST_MINUTE).tobytes() + lines.tobytes()


def paths_of(person_id: str, pictures: Iterable[tuple[int, bytes]]) -> pl.DataFrame:
    """PATHS from pictures, (first dose in microseconds since 1970, bytes); empty pictures are passed over."""
    firsts: list[NDArray[np.int64]] = []
    instants: list[NDArray[np.int64]] = []
    lines: list[NDArray[np.float32]] = []
    for first_us, packed in pictures:
        if not packed:
            continue
        begin = int(np.frombuffer(packed, _FIRST_MINUTE, count=1)[0])
        points = np.frombuffer(packed, _POINTS, offset=_FIRST_MINUTE.itemsize).reshape(_LINES, -1)
        minutes = begin + PATH_STEP_MIN * np.arange(points.shape[1], dtype=np.int64)
        firsts.append(np.full(minutes.size, first_us, dtype=np.int64))
        instants.append(first_us + 60_000_000 * minutes)
        lines.append(points)
    if not lines:
        return PATHS.empty()
    untreated, sd, fitted = np.concatenate(lines, axis=1).astype(np.float64)
    frame = pl.DataFrame(
        {
            "first_dose_utc": np.concatenate(firsts),
            "at_utc": np.concatenate(instants),
            "untreated_mg_dl": untreated,
            "untreated_sd_mg_dl": sd,
            "fitted_mg_dl": fitted,
        }
    )
    times = pl.col("first_dose_utc", "at_utc").cast(pl.Datetime("us", "UTC"))
    return PATHS.check(frame.with_columns(times, person_id=pl.lit(person_id, dtype=pl.String)))
