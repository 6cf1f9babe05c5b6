"""Measurements and pictures of treatments, each remembered under a fingerprint of everything it is computed from.

A measurement rests on the readings of the days its window touches, on its doses, on insulin and food that act in the
window, on the body weight and on the settings. A picture also rests on the candidate by which it is drawn and on the
factor with which it is drawn. Whatever is remembered, the answer is the same.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.findings import Inputs
from gramrise.domain.memo import DAY_US, Block, Memo, ReadingsByDay, fingerprint
from gramrise.domain.pictures import Drawn
from gramrise.domain.words import EventKind
from gramrise.estimate.array_types import Array, Whole
from gramrise.estimate.path import MINUTE_US, doses_of, minutes_of, reads_to
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.settings import PredictionSettings
from gramrise.estimate.treatment.measurement import AT_ONCE, MeasurementSetup, Records, measure_each
from gramrise.estimate.treatment.pictures import Drawing, draw
from gramrise.estimate.treatment.prediction_check import seen_readings

MEASUREMENT: Final = "measurement"
PICTURE: Final = "picture"
# Our choice: treatments measured at once lie within so many days, which bounds the readings in memory.
DAYS_AT_ONCE: Final = 28
_TIMES: Final = ("first_dose_utc", "last_dose_utc", "window_from_utc", "window_to_utc")
_ACTING: Final = np.dtype([("at", "<f8"), ("amount", "<f8"), ("food", "?")])


@dataclass(frozen=True, slots=True)
class TreatmentSource:
    """Where treatments are measured from.

    inputs     known by `as_of_us`, without readings
    readings   all of them, fetched when asked for; later ones than `as_of_us` are left out here
    screened   SCREENED with weight_kg, [B], in order of time
    """

    inputs: Inputs
    readings: ReadingsByDay
    as_of_us: int
    screened: pl.DataFrame
    setup: MeasurementSetup
    prediction: PredictionSettings
    memo: Memo

    @property
    def firsts_us(self) -> NDArray[np.int64]:
        return self.screened["first_dose_utc"].dt.epoch("us").to_numpy()

    def with_readings(self, from_us: int, to_us: int) -> Inputs:
        """The inputs with the readings in [from, to) that were known."""
        return replace(self.inputs, readings=self.readings.fetch(from_us, min(to_us, self.as_of_us + 1)))


def measurements(source: TreatmentSource) -> tuple[Records, list[bytes]]:
    """[B] records of all treatments, and their fingerprints."""
    keys, firsts = _keys(source), source.firsts_us.tolist()
    known = [source.memo.recall(MEASUREMENT, *each) for each in zip(firsts, keys, strict=True)]
    records = np.zeros(len(keys), dtype=source.setup.record)
    there: Whole = np.flatnonzero([each is not None for each in known])
    records[there] = np.frombuffer(b"".join(each for each in known if each is not None), dtype=source.setup.record)
    missing = np.setdiff1d(np.arange(len(keys)), there)
    for rows, inputs in _groups(source, missing):
        some = source.screened[rows]
        records[rows], _ = measure_each(inputs, some, source.setup)
        asked = minutes_of(some["first_dose_utc"])[:, None] + np.array(source.setup.minutes)
        records["seen"][rows] = seen_readings(asked, inputs.readings, source.prediction)
        for row in rows.tolist():
            first = firsts[row]
            source.memo.remember(Block(MEASUREMENT, first, keys[row], 1, first, first, records[row].tobytes()))
    return records, keys


def pictures_of(source: TreatmentSource, drawing: Drawing, keys: list[bytes]) -> list[Drawn]:
    """A picture of each treatment that is to be drawn.

    keys   [B] fingerprints of the measurements
    """
    firsts = source.firsts_us[drawing.rows].tolist()
    own = [fingerprint(keys[row], drawing.rests_on(nth)) for nth, row in enumerate(drawing.rows.tolist())]
    known = [source.memo.recall(PICTURE, *each) for each in zip(firsts, own, strict=True)]
    missing: Whole = np.flatnonzero([each is None for each in known])
    place = dict(zip(drawing.rows[missing].tolist(), missing.tolist(), strict=True))
    for rows, inputs in _groups(source, drawing.rows[missing]):
        part = drawing.chosen([place[row] for row in rows.tolist()])
        for row, drawn in zip(rows.tolist(), draw(inputs, source.screened[rows], part, source.setup), strict=True):
            nth, packed = place[row], drawn.packed()
            known[nth] = packed
            source.memo.remember(
                Block(PICTURE, firsts[nth], own[nth], drawn.fitted_mg_dl.size, *_reach(drawn, firsts[nth]), packed)
            )
    return [Drawn.unpacked(packed) for packed in known if packed is not None]


def _reach(drawn: Drawn, first_us: int) -> tuple[int, int]:
    """Instants of a picture's first and last point."""
    instants = first_us + MINUTE_US * drawn.minutes
    return int(instants[0]), int(instants[-1])


def _groups(source: TreatmentSource, rows: Whole) -> Iterator[tuple[Whole, Inputs]]:
    """Some of the rows at a time, near each other, with the inputs that they read."""
    if not rows.size:
        return
    from_us, to_us = _days_read(source.screened[rows], source.setup.settings, source.prediction)
    begin = 0
    for past in range(1, rows.size + 1):
        if past < rows.size and past - begin < AT_ONCE and from_us[past] - from_us[begin] < DAYS_AT_ONCE * DAY_US:
            continue
        some = slice(begin, past)
        yield rows[some], source.with_readings(int(from_us[some].min()), int(to_us[some].max()))
        begin = past


def _days_read(screened: pl.DataFrame, settings: PathSettings, prediction: PredictionSettings) -> tuple[Whole, Whole]:
    """[B] first instant and end of the UTC days whose readings a measurement reads.

    Whole days: the day's pace decides whether its readings are thinned.
    """
    first = minutes_of(screened["first_dose_utc"])
    checked = first + max(prediction.minutes_after) + prediction.reading_within_minutes
    last = np.fmax(reads_to(screened, settings), checked)
    days = np.floor((first - settings.run_in_min) * MINUTE_US / DAY_US), np.floor(last * MINUTE_US / DAY_US) + 1
    from_day, past_day = (each.astype(np.int64) for each in days)
    return from_day * DAY_US, past_day * DAY_US


def _keys(source: TreatmentSource) -> list[bytes]:
    """[B] fingerprint of everything each measurement is computed from."""
    screened, settings = source.screened, source.setup.settings
    first, last = minutes_of(screened["first_dose_utc"]), minutes_of(screened["last_dose_utc"])
    weight = screened["weight_kg"].cast(pl.Float64).fill_null(np.nan).to_numpy()
    facts = np.column_stack([*(minutes_of(screened[name]) for name in _TIMES), weight]).astype(float)
    minutes, grams, form = doses_of(source.inputs.doses, first, last)
    given = np.stack([minutes, grams, form], axis=2).astype(float)
    doses_n = np.where(grams > 0, np.arange(grams.shape[1]) + 1, 0).max(axis=1, initial=0).tolist()
    acting, low, high = _acting(source.inputs, first, settings)
    from_us, to_us = (each.tolist() for each in _days_read(screened, settings, source.prediction))
    libraries = f"numpy {np.__version__}"
    mark = fingerprint(
        source.setup.fingerprint, repr(source.setup.record), source.prediction.model_dump_json(), libraries
    )
    return [
        fingerprint(
            mark,
            facts[row].tobytes(),
            given[row, : doses_n[row]].tobytes(),
            acting[low[row] : high[row]].tobytes(),
            source.readings.prints_between(from_us[row], to_us[row]),
            _cut(source, to_us[row]),
        )
        for row in range(len(doses_n))
    ]


def _cut(source: TreatmentSource, to_us: int) -> str:
    """What says where readings end that were known, if later ones are there."""
    last = source.readings.last_us
    return str(source.as_of_us) if last is not None and source.as_of_us < min(last, to_us) else ""


def _acting(inputs: Inputs, first: Array, settings: PathSettings) -> tuple[NDArray[np.void], list[int], list[int]]:
    """Logged insulin and food in order of time, and from where to where they may act in each window."""
    wanted = pl.col("kind").is_in([EventKind.INSULIN, EventKind.FOOD]) & pl.col("amount").is_not_null()
    events = inputs.events.filter(wanted)
    acting = np.zeros(events.height, dtype=_ACTING)
    acting["at"], acting["amount"] = minutes_of(events["at_utc"]), events["amount"].to_numpy()
    acting["food"] = (events["kind"] == EventKind.FOOD).to_numpy()
    acting = acting[np.argsort(acting["at"], kind="stable")]
    begin = first - settings.run_in_min
    reach = max(settings.insulin.action_end_min, settings.insulin.meal_end_min)
    ends = begin - reach, begin + settings.window_minutes
    low, high = (np.searchsorted(acting["at"], each).tolist() for each in ends)
    return acting, low, high
