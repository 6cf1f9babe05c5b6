"""What else was logged around an instant: insulin, food, activity, illness, glucagon, vomiting, a new sensor."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import Flags, Instants, Numbers
from gramrise.domain.words import EventKind


@dataclass(frozen=True, slots=True)
class Happenings:
    """Events of one kind in order of their start. `until_us` is the start where no end is known; NaN: no amount."""

    at_us: Instants
    until_us: Instants
    amount: Numbers

    def first_after(self, from_us: Instants, to_us: Instants) -> Instants:
        """Start of the first event in [from, to) for each span; `to` where there is none."""
        row = np.searchsorted(self.at_us, from_us, "left")
        found = np.append(self.at_us, np.iinfo(np.int64).max)[row]
        return np.asarray(np.minimum(found, to_us), dtype=np.int64)

    def any_within(self, from_us: Instants, to_us: Instants) -> Flags:
        """Whether any event, from its start to its end, touches the span [from, to], both ends included."""
        if len(self.at_us) == 0:
            return np.zeros(len(from_us), dtype=np.bool_)
        reach = np.maximum.accumulate(self.until_us)  # the latest end among events begun so far
        begun = np.searchsorted(self.at_us, to_us, "right") - 1
        return np.asarray((begun >= 0) & (reach[np.maximum(begun, 0)] >= from_us), dtype=np.bool_)


def happenings(events: pl.DataFrame, kind: EventKind, settings: DetectSettings) -> Happenings:
    """Events of one kind from one person's EVENTS. Food up to `small_food_g` is passed over: no meal."""
    chosen = events.filter(pl.col("kind") == str(kind))
    if kind is EventKind.FOOD:
        chosen = chosen.filter(pl.col("amount").is_null() | (pl.col("amount") > settings.small_food_g))
    at_us = chosen["at_utc"].cast(pl.Int64)
    return Happenings(
        at_us=at_us.to_numpy(),
        until_us=chosen["until_utc"].cast(pl.Int64).fill_null(at_us).to_numpy(),
        amount=chosen["amount"].fill_null(float("nan")).to_numpy(),
    )


def all_happenings(events: pl.DataFrame, settings: DetectSettings) -> dict[EventKind, Happenings]:
    """Events of every kind."""
    return {kind: happenings(events, kind, settings) for kind in EventKind}
