"""Turns of the trace at which unlogged glucose may have been taken, and how each rose."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.words import EventKind
from gramrise.place.settings import PlaceSettings

MINUTE_US = 60_000_000


@dataclass(frozen=True, slots=True)
class Recovery:
    """One turn: its lowest reading, and how far the trace rose from it in the minutes of the settings."""

    at_utc: datetime  # when glucose for it would have been taken
    lowest_at_utc: datetime
    lowest_mg_dl: float
    turn_mg_dl: float  # how sharply it turned: its rise in the minutes of the settings, and half of the fall before it
    food_near: bool  # food is logged near it, which may explain its rise


@dataclass(frozen=True, slots=True)
class OwnTurns:
    """Every turn of one person's record, and what is logged near each."""

    recoveries: tuple[Recovery, ...]
    grams_near: tuple[float, ...]  # logged glucose that explains it, g; 0 where none is, NaN where an amount is unknown

    def within(self, from_utc: datetime, to_utc: datetime) -> list[Recovery]:
        """The turns in [from_utc, to_utc), in order of time, that no logged glucose explains."""
        pairs = zip(self.recoveries, self.grams_near, strict=True)
        return [each for each, grams in pairs if grams == 0 and from_utc <= each.lowest_at_utc < to_utc]


def own_turns(inputs: Inputs, rules: PlaceSettings) -> OwnTurns:
    """The turns of a person's whole record, in order of time."""
    at_us = inputs.readings["at_utc"].cast(pl.Int64).to_numpy()
    mg_dl = inputs.readings["glucose_mg_dl"].to_numpy()
    doses = inputs.doses.filter(pl.col("taken_at_utc").is_not_null())
    taken_us, grams = doses["taken_at_utc"].cast(pl.Int64).to_numpy(), doses["grams"].fill_null(np.nan).to_numpy()
    before, after = int(rules.explained_before_minutes * MINUTE_US), int(rules.explained_after_minutes * MINUTE_US)
    kind = pl.col("kind")
    glucagon, food = (
        np.sort(inputs.events.filter(kind == str(which))["at_utc"].cast(pl.Int64).to_numpy())
        for which in (EventKind.GLUCAGON, EventKind.FOOD)
    )
    found, near = [], []
    for row in turns(at_us, mg_dl, rules):
        at = int(at_us[row])
        first, past = np.searchsorted(taken_us, [at - before, at + after + 1])
        found.append(_recovery(at_us, mg_dl, row, _any(food, at - before, at + after), rules))
        near.append(np.nan if _any(glucagon, at - before, at + after) else float(grams[first:past].sum()))
    return OwnTurns(tuple(found), tuple(near))


def _any(sorted_us: np.ndarray, from_us: int, to_us: int) -> bool:
    first = int(np.searchsorted(sorted_us, from_us))
    return first < len(sorted_us) and int(sorted_us[first]) <= to_us


def _recovery(at_us: np.ndarray, mg_dl: np.ndarray, row: int, food_near: bool, rules: PlaceSettings) -> Recovery:
    past = int(np.searchsorted(at_us, at_us[row] + int(rules.rise_minutes * MINUTE_US), "right"))
    rise = mg_dl[row:past].max() - mg_dl[row]
    fall = np.interp(at_us[row] - int(rules.fall_minutes * MINUTE_US), at_us, mg_dl) - mg_dl[row]
    lowest_at = _instant(int(at_us[row]))
    return Recovery(
        at_utc=lowest_at - timedelta(minutes=rules.turn_after_glucose_minutes),
        lowest_at_utc=lowest_at,
        lowest_mg_dl=float(mg_dl[row]),
        turn_mg_dl=float(rise + rules.fall_weight * max(0.0, fall)),
        food_near=food_near,
    )


def turns(at_us: np.ndarray, mg_dl: np.ndarray, rules: PlaceSettings) -> list[int]:
    """Rows of the trace that are the lowest of their surroundings, the last of equals, and low enough."""
    width = int(rules.turn_minutes * MINUTE_US)
    begins = np.searchsorted(at_us, at_us - width)
    ends = np.searchsorted(at_us, at_us + width, "right")
    rows = []
    for row in np.flatnonzero(mg_dl <= rules.turn_at_most_mg_dl).tolist():
        after = mg_dl[row + 1 : ends[row]]
        if len(after) and mg_dl[row] <= mg_dl[begins[row] : row + 1].min() and mg_dl[row] < after.min():
            rows.append(row)
    return rows


def _instant(us: int) -> datetime:
    return datetime.fromtimestamp(us / 1e6, UTC)
