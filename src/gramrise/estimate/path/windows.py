"""Windows of the trace laid out for the filter: run-in, response and tail of many treatments as padded arrays."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.insulin import RAPID_INSULIN
from gramrise.domain.sources import Form
from gramrise.domain.words import EventKind
from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.path_settings import PathSettings

FORMS: Final = tuple(Form)
FORM_AT: Final = {form.value: at for at, form in enumerate(FORMS)}
MINUTE_US: Final = 60_000_000
DAY_MIN: Final = 1440
# Longer steps between readings are taken as this long: our choice, windows with such gaps are set aside anyway.
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
    person: Whole  # [B] index of the person
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

    def thinned(self, most: int) -> "TreatmentWindows":
        """At most so many windows, evenly spaced in their order."""
        count = self.row.size
        return self if count <= most else self.chosen(np.linspace(0, count - 1, most).astype(np.int64))

    def without_doses(self) -> "TreatmentWindows":
        return replace(self, dose_grams=np.zeros_like(self.dose_grams))

    def seen_until(self, minute: int) -> "TreatmentWindows":
        """The same windows with every later reading taken away."""
        early = self.minutes <= minute
        return replace(self, present=self.present & early, below=self.below & early)


def minutes_of(times: pl.Series) -> Array:
    """Instants (none missing) as minutes since 1970, f64."""
    return times.to_numpy().astype("datetime64[us]").astype(np.int64) / MINUTE_US


@dataclass(frozen=True, slots=True)
class ThinnedTrace:
    """One person's readings as arrays, thinned to about one in `thin` minutes where the sensor reads more often."""

    at: Array
    value: Array
    below: Flags

    @classmethod
    def of(cls, readings: pl.DataFrame, thin_min: float) -> "ThinnedTrace":
        in_reach = readings["range"] != "above"
        usable = readings if in_reach.all() else readings.filter(in_reach)
        at, value = minutes_of(usable["at_utc"]), usable["glucose_mg_dl"].to_numpy().astype(float)
        below = (usable["range"] == "below").to_numpy()
        kept = _thinned(at, thin_min)
        return cls(at[kept], value[kept], below[kept])


def _thinned(at: Array, thin_min: float) -> Whole:
    """Rows that stay: of a UTC day whose readings come more often, the middle one in each `thin_min` minutes.

    Every day is judged by itself, so that a window holds the same readings whichever other days are looked at.
    """
    often = thin_min - 1
    step = np.diff(at)
    if not (step < often).any():
        return np.arange(at.size)
    begins = np.flatnonzero(np.diff(np.floor(at / DAY_MIN), prepend=-1.0))
    kept = []
    for first, past in pairwise([*begins.tolist(), at.size]):
        thin = past - first > 2 and float(np.median(step[first : past - 1])) < often
        rows = _one_per_bin(np.floor(at[first:past] / thin_min)) if thin else np.arange(past - first)
        kept.append(first + rows)
    return np.concatenate(kept)


def _one_per_bin(bins: Array) -> Whole:
    """Index of the middle reading of each bin."""
    starts = np.flatnonzero(np.diff(bins, prepend=bins[0] - 1))
    ends = np.append(starts[1:], bins.size)
    middle: Whole = (starts + ends - 1) // 2
    return middle


def laid_out(
    inputs: Inputs, screened: pl.DataFrame, settings: PathSettings, person: int = 0, trace: ThinnedTrace | None = None
) -> TreatmentWindows:
    """The windows of one person's treatments; those without readings give a row without any present.

    screened  SCREENED, one person, with weight_kg f64 beside it where the caller knows it
    """
    trace = ThinnedTrace.of(inputs.readings, settings.thin_min) if trace is None else trace
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
        acting=_acting(inputs, first, settings),
        food=_food(inputs, first, settings),
        person=np.full(first.size, person),
        row=np.arange(first.size),
    )


def reads_from(screened: pl.DataFrame, settings: PathSettings) -> Array:
    """[B] earliest minute (since 1970) of which a window's readings, insulin or food are read.

    Of readings whole UTC days are looked at: the day's pace decides whether it is thinned.
    """
    begin = minutes_of(screened["first_dose_utc"]) - settings.run_in_min
    events = begin - max(settings.insulin.action_end_min, settings.insulin.meal_end_min)
    return np.asarray(np.minimum(np.floor(begin / DAY_MIN) * DAY_MIN, events))


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


def _acting(inputs: Inputs, first: Array, settings: PathSettings) -> Array:
    """Units acting per minute over each window from logged rapid insulin; only doses before the minute itself."""
    events = inputs.events
    given = events.filter((events["kind"] == EventKind.INSULIN) & events["amount"].is_not_null())
    return _spread(given, first, settings, settings.insulin.action_end_min, RAPID_INSULIN.acting_per_minute)


def _food(inputs: Inputs, first: Array, settings: PathSettings) -> Array:
    """Grams of logged carbohydrate appearing per minute: the gut chain with a meal's time constant."""
    events = inputs.events
    eaten = events.filter((events["kind"] == EventKind.FOOD) & (events["amount"] > 0).fill_null(value=False))
    gut = settings.insulin.meal_gut_min

    def appearing(minutes: Array) -> Array:
        since = np.maximum(minutes, 0.0)
        return since / gut**2 * np.exp(-since / gut)

    return _spread(eaten, first, settings, settings.insulin.meal_end_min, appearing)


def _spread(
    events: pl.DataFrame, first: Array, settings: PathSettings, end_min: float, rate: Callable[[Array], Array]
) -> Array:
    """Sum over events of amount x rate(minutes since), for each window and minute from the start of its run-in."""
    out = np.zeros((first.size, settings.window_minutes))
    at = minutes_of(events["at_utc"])
    order = np.argsort(at, kind="stable")
    at, amount = at[order], events["amount"].to_numpy().astype(float)[order]
    begin = first - settings.run_in_min
    low, high = np.searchsorted(at, begin - end_min), np.searchsorted(at, begin + settings.window_minutes)
    window, event = _pairs(low, high)
    if window.size:
        since = begin[window, None] + np.arange(settings.window_minutes)[None, :] - at[event][:, None]
        starts = np.flatnonzero(np.diff(window, prepend=-1))  # pairs stand in the order of windows
        out[window[starts]] = np.add.reduceat(amount[event][:, None] * rate(since), starts, axis=0)
    return out


def _pairs(low: Whole, high: Whole) -> tuple[Whole, Whole]:
    """All (window, event) with low <= event < high."""
    count = np.maximum(high - low, 0)
    window = np.repeat(np.arange(low.size), count)
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return window, low[window] + within


def usable(windows: TreatmentWindows, settings: PathSettings) -> TreatmentWindows:
    """Windows with readings enough on both sides of the first dose."""
    return windows.chosen(measurable(windows, settings))


def measurable(windows: TreatmentWindows, settings: PathSettings) -> Flags:
    """[B] whether readings before and after the first dose suffice."""
    after = (windows.present & (windows.minutes >= settings.after_from_min)).sum(axis=1)
    before = (windows.present & (windows.minutes <= 0)).sum(axis=1)
    enough: Flags = (after >= settings.fewest_after) & (before >= settings.fewest_before)
    return enough


def joined(parts: list[TreatmentWindows]) -> TreatmentWindows:
    """Windows of many persons in one, padded to the longest; row numbers count on within each part."""
    if len(parts) == 1:
        return parts[0]
    longest = max((part.minutes.shape[1] for part in parts), default=1)
    doses = max((part.dose_minutes.shape[1] for part in parts), default=1)
    wide = dict.fromkeys(("minutes", "values", "present", "below"), longest)
    wide |= dict.fromkeys(("dose_minutes", "dose_grams", "dose_form"), doses)

    def stacked(name: str) -> Array:
        arrays = [getattr(part, name) for part in parts]
        if name in wide:
            edge = "edge" if name in ("minutes", "values") else "constant"
            arrays = [np.pad(a, ((0, 0), (0, wide[name] - a.shape[1])), mode=edge) for a in arrays]  # type: ignore[call-overload]
        return np.concatenate(arrays)

    fields: dict[str, Any] = {name: stacked(name) for name in TreatmentWindows.__dataclass_fields__}
    return TreatmentWindows(**fields)
