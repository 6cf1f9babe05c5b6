"""Pictures of treatments as bytes: the untreated path and the fit as drawn, and what a person would read off them."""

from collections.abc import Iterable
from typing import Final, NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.frames import PATHS

Floats = NDArray[np.float64]

# The contract of PATHS: a point every five minutes, as sensors read.
PATH_STEP_MIN: Final = 5
MINUTE_US: Final = 60_000_000
# A picture is kept as the minute of its first point, level at the first dose and peak of the rise, then untreated path,
# its sd and the fit, each as float32: good to a ten-thousandth of a mg/dL.
_HEAD: Final = np.dtype([("first_minute", "<i4"), ("start", "<f4"), ("rise", "<f4")])
_POINTS: Final = np.dtype("<f4")
_LINES: Final = 3


class Drawn(NamedTuple):
    """What one picture shows; lines have a point every five minutes from `first_minute` after the first dose on."""

    first_minute: int
    start_mg_dl: float  # estimated level at the first dose
    rise_mg_dl: float  # peak of the estimated rise
    untreated_mg_dl: Floats  # [points]
    sd_mg_dl: Floats
    fitted_mg_dl: Floats

    @property
    def minutes(self) -> NDArray[np.int64]:
        """[points] minutes after the first dose."""
        return self.first_minute + PATH_STEP_MIN * np.arange(self.fitted_mg_dl.size, dtype=np.int64)

    def packed(self) -> bytes:
        head = np.array(self[:3], dtype=_HEAD)
        return head.tobytes() + np.stack(self[3:]).astype(_POINTS).tobytes()

    @classmethod
    def unpacked(cls, packed: bytes) -> "Drawn":
        head = np.frombuffer(packed, _HEAD, count=1)[0]
        lines = np.frombuffer(packed, _POINTS, offset=_HEAD.itemsize).reshape(_LINES, -1).astype(np.float64)
        return cls(int(head["first_minute"]), float(head["start"]), float(head["rise"]), *lines)


def paths_of(person_id: str, pictures: Iterable[tuple[int, bytes]]) -> pl.DataFrame:
    """PATHS from packed pictures, (first dose in microseconds since 1970, bytes), in order of time."""
    drawn = [(first_us, Drawn.unpacked(packed)) for first_us, packed in pictures]
    if not drawn:
        return PATHS.empty()
    frame = pl.DataFrame(
        {
            "first_dose_utc": np.concatenate([np.full(each.minutes.size, first_us) for first_us, each in drawn]),
            "at_utc": np.concatenate([first_us + MINUTE_US * each.minutes for first_us, each in drawn]),
            "untreated_mg_dl": np.concatenate([each.untreated_mg_dl for _, each in drawn]),
            "untreated_sd_mg_dl": np.concatenate([each.sd_mg_dl for _, each in drawn]),
            "fitted_mg_dl": np.concatenate([each.fitted_mg_dl for _, each in drawn]),
        }
    )
    times = pl.col("first_dose_utc", "at_utc").cast(pl.Datetime("us", "UTC"))
    return PATHS.check(frame.with_columns(times, person_id=pl.lit(person_id, dtype=pl.String)))
