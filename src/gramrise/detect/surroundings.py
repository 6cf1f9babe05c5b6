"""What else was logged around an instant: insulin, food, activity, illness, glucagon, vomiting, a new sensor."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import Flags, Instants, Numbers, instants
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


def all_happenings(events: pl.DataFrame, settings: DetectSettings) -> dict[EventKind, Happenings]:
    """One person's EVENTS by kind. Food up to `small_food_g` is passed over: no meal."""
    kinds = events["kind"].to_numpy().astype(str) if events.height else np.empty(0, dtype=str)
    at_us = instants(events["at_utc"])
    until = np.asarray(events["until_utc"].to_numpy(), dtype="datetime64[us]")
    until_us = np.where(np.isnat(until), at_us, until.astype(np.int64))
    amount = events["amount"].to_numpy().astype(np.float64)
    small = (kinds == str(EventKind.FOOD)) & (amount <= settings.small_food_g)
    chosen = {kind: (kinds == str(kind)) & ~small for kind in EventKind}
    return {kind: Happenings(at_us[rows], until_us[rows], amount[rows]) for kind, rows in chosen.items()}
