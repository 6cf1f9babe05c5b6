"""Windows of readings for the filter: run-in, response and tail of many treatments as padded arrays."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.sources import Form
from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.path.surroundings import food_appearing, insulin_acting
from gramrise.estimate.path.trace import ThinnedTrace, minutes_of
from gramrise.estimate.path_settings import PathSettings

FORMS: Final = tuple(Form)
FORM_AT: Final = {form.value: at for at, form in enumerate(FORMS)}
# Longer steps between readings count as this long: our choice, as windows with such gaps are set aside anyway.
MOST_STEP_MIN: Final = 120


@dataclass(frozen=True, slots=True)
class TreatmentWindows:
    """B windows; minutes count from each one's first dose, rounded to whole ones. Padding is not present."""

    minutes: Whole  # [B, T]
    values: Array  # [B, T] mg/dL
    present: Flags  # [B, T] a reading in range
    below: Flags  # [B, T] a reading below the sensor's range: its value is the bound
    dose_minutes: Whole  # [B, N]
    dose_grams: Array  # [B, N]; 0 where there is no such dose
    dose_form: Whole  # [B, N] index into FORMS
    weight_kg: Array  # [B]; nan where unknown
    acting: Array  # [B, M] units of rapid insulin acting per minute, minute 0 = start of the run-in; 0 unlogged
    food: Array  # [B, M] grams of carbohydrate appearing per minute from logged food
    row: Whole  # [B] row of the frame it was made from

    @property
    def grams(self) -> Array:
        total: Array = self.dose_grams.sum(axis=1)
        return total

    @property
    def steps(self) -> Whole:
        """[B, T] minutes since the point before, at most `MOST_STEP_MIN`; 0 at the first point and in the padding."""
        return np.diff(self.minutes, axis=1, prepend=self.minutes[:, :1]).clip(0, MOST_STEP_MIN)

    def chosen(self, rows: Whole | Flags) -> "TreatmentWindows":
        """Only these windows."""
        return TreatmentWindows(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    def without_doses(self) -> "TreatmentWindows":
        return replace(self, dose_grams=np.zeros_like(self.dose_grams))


def laid_out(inputs: Inputs, screened: pl.DataFrame, settings: PathSettings) -> TreatmentWindows:
    """Lay out the windows of one person's treatments; one without readings gives a row with none present.

    screened  SCREENED, one person, with weight_kg f64 beside it where the caller knows it
    """
    trace = ThinnedTrace.of(inputs.readings, settings.thin_min)
    first = minutes_of(screened["first_dose_utc"])
    begin = np.fmax(minutes_of(screened["window_from_utc"]), first - settings.run_in_min)
    last_dose = minutes_of(screened["last_dose_utc"])
    end = reads_to(screened, settings)
    low, high = np.searchsorted(trace.at, begin - 1e-6), np.searchsorted(trace.at, end - 1e-6)
    longest = int(max(1, (high - low).max(initial=0)))
    index = low[:, None] + np.arange(longest)[None, :]
    inside = index < high[:, None]
    index = np.where(inside, index, np.maximum(high - 1, low)[:, None]).clip(0, max(trace.at.size - 1, 0))
    at = trace.at[index] if trace.at.size else np.zeros(index.shape)
    below = inside & (trace.below[index] if trace.at.size else False)
    dose_minutes, dose_grams, dose_form = doses_of(inputs.doses, first, last_dose)
    weight = screened["weight_kg"].to_numpy() if "weight_kg" in screened.columns else np.full(first.size, np.nan)
    return TreatmentWindows(
        minutes=np.rint(at - first[:, None]).astype(np.int64),
        values=trace.value[index] if trace.at.size else np.zeros(index.shape),
        present=inside & ~below,
        below=below,
        dose_minutes=dose_minutes,
        dose_grams=dose_grams,
        dose_form=dose_form,
        weight_kg=weight.astype(float),
        acting=insulin_acting(inputs, first, settings),
        food=food_appearing(inputs, first, settings),
        row=np.arange(first.size),
    )


def reads_to(screened: pl.DataFrame, settings: PathSettings) -> Array:
    """[B] the minute (since 1970) before which all of a window's readings lie."""
    end = minutes_of(screened["last_dose_utc"]) + settings.tail_min
    return np.asarray(np.fmin(minutes_of(screened["window_to_utc"]), end))


def doses_of(doses: pl.DataFrame, first: Array, last: Array) -> tuple[Whole, Array, Whole]:
    """Every measured dose from the first to the last of each treatment, as padded arrays."""
    known = doses.filter(doses["grams"].is_not_null()) if doses["grams"].null_count() else doses
    at, grams = minutes_of(known["taken_at_utc"]), known["grams"].to_numpy().astype(float)
    form = np.array([FORM_AT[name] for name in known["form"].to_list()], dtype=np.int64)
    order = np.argsort(at, kind="stable")
    at, grams, form = at[order], grams[order], form[order]
    low, high = np.searchsorted(at, first - 1e-6), np.searchsorted(at, last + 1e-6)
    most = int(max(1, (high - low).max(initial=0)))
    index = low[:, None] + np.arange(most)[None, :]
    inside = index < high[:, None]
    index = index.clip(0, max(at.size - 1, 0))
    if not at.size:
        return np.zeros(index.shape, np.int64), np.zeros(index.shape), np.zeros(index.shape, np.int64)
    minutes = np.where(inside, np.rint(at[index] - first[:, None]), 0).astype(np.int64)
    return minutes, np.where(inside, grams[index], 0.0), np.where(inside, form[index], 0)


def measurable(windows: TreatmentWindows, settings: PathSettings) -> Flags:
    """[B] whether readings before and after the first dose suffice."""
    after = (windows.present & (windows.minutes >= settings.after_from_min)).sum(axis=1)
    before = (windows.present & (windows.minutes <= 0)).sum(axis=1)
    enough: Flags = (after >= settings.fewest_after) & (before >= settings.fewest_before)
    return enough
