"""Pressure dips: lows that look like lying on the sensor, as a probability.

A dip (Facchinetti A et al. Diabetes Technol Ther 2016;18:264) drops abruptly by 10-48 mg/dL, lasts 30-70 minutes, comes
back by a first-order filter to where the level would have been, and comes mostly at night. What the family logged is
left out on purpose: the alarm of a dip is answered with glucose, too.
"""

from dataclasses import dataclass

import numpy as np

from gramrise.detect.lows import LowEvents
from gramrise.detect.settings import DetectSettings, DipWeights
from gramrise.detect.trace import US_PER_MINUTE, Flags, Numbers, Trace
from gramrise.detect.treatments import instant
from gramrise.domain.person import Person, zone_on


@dataclass(frozen=True, slots=True)
class DipShape:
    """How one low looks beside the trace around it; mg/dL and minutes. Zero, or `uneven`, where a side is not seen."""

    depth: float  # middle of the levels before and after, minus the lowest value
    fall: float  # greatest fall within ten minutes at its start, beyond the slope before
    back: float  # greatest rise within ten minutes at its end, beyond the slope after
    uneven: float  # how far the levels before and after differ
    over: float  # level after minus level before, where above
    minutes: float
    falling: float  # slope before, downwards, mg/dL per minute
    rising: float  # slope after


def dip_shape(trace: Trace, lows: LowEvents, nth: int, settings: DetectSettings) -> DipShape:
    """The shape of one low. Levels on both sides are means of readings near it in the same unbroken stretch."""
    start_us, end_us = int(lows.start_us[nth]), int(lows.end_us[nth])
    first, past = int(lows.first[nth]), int(lows.past[nth])
    rows = _stretch_around(trace, first, past, start_us, end_us, settings)
    minutes = (trace.at_us[rows] - start_us) / US_PER_MINUTE
    value = trace.mg_dl[rows]
    length = (end_us - start_us) / US_PER_MINUTE
    before = (minutes <= -settings.dip_side_from_minutes) & (minutes >= -settings.dip_before_minutes)
    after = (minutes >= length + settings.dip_side_from_minutes) & (minutes <= length + settings.dip_after_minutes)
    nadir = float(trace.mg_dl[first:past].min())
    falling, rising = _slope(minutes[before], value[before]), _slope(minutes[after], value[after])
    steps = max(1, round(10 / float(trace.step_minutes[first])))  # readings in ten minutes
    wide = steps * float(trace.step_minutes[first])
    opening, closing = first - rows.start, past - rows.start
    fall = _greatest(-value, opening, steps) + min(falling, 0.0) * wide
    back = _greatest(value, closing, steps) - max(rising, 0.0) * wide
    if not (before.any() and after.any()):
        return DipShape(0.0, max(fall, 0.0), max(back, 0.0), settings.dip_unseen_mg_dl, 0.0, length, -falling, rising)
    level_before, level_after = float(value[before].mean()), float(value[after].mean())
    middle, over = (level_before + level_after) / 2, level_after - level_before
    return DipShape(middle - nadir, max(fall, 0.0), max(back, 0.0), abs(over), over, length, -falling, rising)


def _stretch_around(trace: Trace, first: int, past: int, start_us: int, end_us: int, settings: DetectSettings) -> slice:
    """Rows of the unbroken stretch near a low, as far as its sides are looked at."""
    from_us = start_us - int(settings.dip_before_minutes * US_PER_MINUTE)
    to_us = end_us + int(settings.dip_after_minutes * US_PER_MINUTE)
    low = int(np.searchsorted(trace.at_us, from_us, "left"))
    high = int(np.searchsorted(trace.at_us, to_us, "right"))
    breaks_before = np.flatnonzero(trace.starts[low : first + 1])
    breaks_after = np.flatnonzero(trace.starts[past:high])
    if len(breaks_before):
        low += int(breaks_before[-1])
    if len(breaks_after):
        high = past + int(breaks_after[0])
    return slice(low, high)


def _slope(minutes: Numbers, value: Numbers) -> float:
    """Least-squares slope, mg/dL per minute; 0 under two readings."""
    if len(minutes) < 2:
        return 0.0
    centred = minutes - minutes.mean()
    return float(centred @ value / (centred @ centred))


def _greatest(value: Numbers, turn: int, steps: int) -> float:
    """Greatest gain over `steps` readings among those that begin within four before and one after a turn."""
    begins = np.arange(max(0, turn - 4), min(turn + 2, len(value) - 1))
    if len(begins) == 0:
        return 0.0
    return float((value[np.minimum(begins + steps, len(value) - 1)] - value[begins]).max())


def dips_of(person: Person, trace: Trace, lows: LowEvents, settings: DetectSettings) -> tuple[Numbers, Flags]:
    """Probability of each low that the sensor was lain upon, and whether it is high enough to be called a dip."""
    found, called = np.zeros(len(lows)), np.zeros(len(lows), dtype=np.bool_)
    for nth in range(len(lows)):
        shape = dip_shape(trace, lows, nth, settings)
        began = instant(lows.start_us[nth])
        hour = began.astimezone(zone_on(person.zone, began)).hour
        night = hour >= settings.night_from_hour or hour < settings.night_to_hour
        coarse = trace.step_minutes[lows.first[nth]] >= settings.dip_coarse_from_minutes
        weights = settings.dip_coarse if coarse else settings.dip_fine
        found[nth] = _probability(shape, night, weights, settings)
        called[nth] = found[nth] >= (settings.dip_called_coarse if coarse else settings.dip_called_fine)
    return found, called


def told_by_shape(shape: DipShape, night: bool, settings: DetectSettings) -> Numbers:
    """What a shape tells, in the order of the fields of DipWeights; held within the range they were fitted on."""
    length = float(np.clip(np.log(shape.minutes / settings.dip_minutes), -1.2, 1.2))
    return np.array(
        [
            1.0,
            float(night),
            np.clip(shape.depth, 0, 50) / 10,
            np.clip(shape.fall, 0, 50) / 10,
            np.clip(shape.back, 0, 50) / 10,
            np.clip(shape.uneven, 0, 60) / 10,
            np.clip(shape.over, 0, 60) / 10,
            length,
            length**2,
            np.clip(shape.falling, -1, 4),
            np.clip(shape.rising, -1, 4),
            max(shape.depth - settings.dip_most_mg_dl, 0.0) / 10,
        ]
    )


def _probability(shape: DipShape, night: bool, weights: DipWeights, settings: DetectSettings) -> float:
    odds = float(told_by_shape(shape, night, settings) @ np.array(weights.in_order()))
    return float(1 / (1 + np.exp(-odds)))
