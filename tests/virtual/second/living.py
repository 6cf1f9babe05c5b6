"""Sixty days of someone: what is planned, and one loop in which they eat, inject, feel and treat."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple

import numpy as np
from numba import njit

from virtual.second.body import MEAL_ABSORPTION_PER_MIN, MEAL_RAMP_MIN, Kinetics, minute_on, swallow
from virtual.second.someone import Someone

EVENT_SD = 0.40  # drawn scatter of single treatments; the rest of 0.40-0.50 comes from the circumstances


@dataclass(frozen=True, slots=True)
class Calendar:
    start_utc: datetime
    clock: np.ndarray  # local minute of the day
    day: np.ndarray
    night: np.ndarray  # 22:00-07:00
    asleep: np.ndarray
    kg: np.ndarray
    meals: np.ndarray  # g eaten
    counted: np.ndarray  # g the insulin of that minute is for
    action: np.ndarray  # insulin's strength
    drive: np.ndarray  # mg/dL per min from nowhere
    basal: np.ndarray  # share of the right basal
    sport: tuple[tuple[int, int], ...]


class World(NamedTuple):
    night: np.ndarray
    asleep: np.ndarray
    kg: np.ndarray
    meals: np.ndarray
    counted: np.ndarray
    action: np.ndarray
    drive: np.ndarray
    basal: np.ndarray
    luck: np.ndarray  # (minutes, 4) uniform
    amount: np.ndarray  # normal
    feels_at: np.ndarray  # mg/dL, by minute
    deaf: np.ndarray  # no treatment that day, by minute
    scatter: np.ndarray  # by treatment


class Ways(NamedTuple):
    basal_mu_kg: float
    grams_per_unit: float
    drop_per_unit: float
    generous: float  # insulin times this
    usual_g_per_kg: float
    spread: float
    piece_g: float
    g_per_ml: float
    gain_day: float
    gain_night: float
    suspends: bool


class Lived(NamedTuple):
    glucose: np.ndarray
    tissue: np.ndarray
    entering: np.ndarray  # g per minute, food and glucose
    insulin: np.ndarray  # mU
    bolus: np.ndarray  # U
    food: np.ndarray  # g
    doses: np.ndarray  # minute, grams, liquid, amount, treatment, times
    states: np.ndarray


def calendar(rng: np.random.Generator, who: Someone, start: date, days: int) -> Calendar:
    firsts = [datetime.combine(start + timedelta(days=d), time(), tzinfo=who.zone) for d in range(days + 1)]
    begin = firsts[0].astimezone(UTC)
    at = [int((f.astimezone(UTC) - begin).total_seconds() // 60) for f in firsts]
    n = at[-1]
    day = np.searchsorted(np.array(at[1:]), np.arange(n), side="right")
    clock = np.empty(n, dtype=np.int64)
    for m in range(0, n, 30):
        local = (begin + timedelta(minutes=m)).astimezone(who.zone)
        clock[m : m + 30] = (local.hour * 60 + local.minute + np.arange(min(30, n - m))) % 1440
    meals, counted, drive = np.zeros(n), np.zeros(n), np.zeros(n)
    asleep = (clock >= 1340) | (clock < 400)
    strength = 1.0 + 0.12 * np.sin(2 * np.pi * (clock - 300) / 1440)
    strength *= np.exp(_walk(rng, n, 240.0, 0.14) + 0.1 * rng.standard_normal(days)[day])
    drive += _walk(rng, n, 75.0, 0.36) + _bursts(rng, n)
    sport = []
    for first in at[:-1]:
        for clock_h, size, chance in ((7.2, 0.8, 0.95), (12.2, 1.0, 0.97), (15.8, 0.4, 0.5), (18.9, 1.0, 0.97)):
            when = first + int(60 * clock_h + 20 * rng.standard_normal())
            grams = size * 14.0 * who.kg**0.35 * rng.gamma(12.0, 1 / 12.0)
            before, missed = int(rng.integers(-5, 16)), rng.random() < 0.05
            error = np.exp(0.18 * who.steadiness * rng.standard_normal())
            if rng.random() < chance and 0 <= when - before < n and 0 <= when < n:
                meals[when] += round(grams)
                counted[when - before] += 0.0 if missed else grams * error
        if rng.random() < 0.35:
            when = first + int(rng.uniform(14.5, 19.0) * 60)
            sport.append((when, when + int(rng.uniform(30, 75))))
    for a, b in sport:
        drive[a:b] -= 0.5
        strength[a : b + 600] *= 1.25
    basal = np.exp(0.4 * rng.standard_normal(3 * days + 3)[np.arange(n) // 480])
    kg = who.kg + who.kg_per_day * day
    night = (clock >= 1320) | (clock < 420)
    return Calendar(begin, clock, day, night, asleep, kg, meals, counted, strength, drive, basal, tuple(sport))


def _walk(rng: np.random.Generator, n: int, minutes: float, sd: float) -> np.ndarray:
    """A damped random walk of this time constant, in steps of 10 minutes joined by straight lines."""
    keep = np.exp(-10.0 / minutes)
    values = np.empty(n // 10 + 2)
    values[0] = rng.standard_normal()
    noise = rng.standard_normal(values.size)
    for i in range(1, values.size):
        values[i] = keep * values[i - 1] + np.sqrt(1 - keep * keep) * noise[i]
    return sd * np.interp(np.arange(n), 10 * np.arange(values.size), values)


def _bursts(rng: np.random.Generator, n: int) -> np.ndarray:
    """Now and then something lifts the level for an hour or two: fright, fever, a hormone."""
    lift = np.zeros(n)
    for _ in range(rng.poisson(n / 1440 * 0.3)):
        at, long = int(rng.integers(n)), int(rng.uniform(40, 120))
        lift[at : at + long] += rng.uniform(0.1, 0.6)
    return lift


def world(rng: np.random.Generator, c: Calendar, deaf_share: float = 0.08) -> World:
    n, days = c.clock.size, int(c.day[-1]) + 1
    return World(
        c.night, c.asleep, c.kg, c.meals, c.counted, c.action, c.drive, c.basal,
        rng.random((n, 4)), rng.standard_normal(n),
        (66.0 + 6.0 * rng.standard_normal(days))[c.day], (rng.random(days) < deaf_share)[c.day],
        # A mixture: one treatment in eight is far off.
        np.exp(EVENT_SD * np.where(rng.random(n // 60 + 2) < 0.125, 1.8, 0.82) * rng.standard_normal(n // 60 + 2)),
    )  # fmt: skip


@njit(cache=True)
def _feels(level: float, slope: float, m: int, w: World, waiting: bool) -> bool:
    if waiting:
        return level < 73.0 and slope < 1.0 and w.luck[m, 0] < 0.2
    if w.deaf[m]:
        return False
    threshold = w.feels_at[m] - (5.0 if w.asleep[m] else 0.0)
    chance = (0.045 if w.asleep[m] else 0.16) / (1.0 + np.exp((level - threshold) / 2.5))
    if not w.asleep[m] and level < 102.0 and slope < -0.9 and level + 18.0 * slope < 74.0:
        chance = max(chance, 0.06)
    return bool(w.luck[m, 0] < chance)


@njit(cache=True)
def _how_much(level: float, slope: float, m: int, w: World, h: Ways, liquid: bool) -> float:
    """Pieces or mL: the usual amount, more the lower and the faster it falls."""
    more = 1.0 + 0.025 * (68.0 - level) + (0.35 if slope < -1.2 else 0.0)
    grams = h.usual_g_per_kg * w.kg[m] * min(2.2, max(0.5, more)) * np.exp(0.2 * h.spread * w.amount[m])
    if liquid:
        return float(max(10.0, 10.0 * np.round(grams / h.g_per_ml / 10.0)))
    return float(max(1.0, np.round(grams / h.piece_g)))


@njit(cache=True)
def _take(
    m: int, level: float, slope: float, k: Kinetics, w: World, h: Ways, doses: np.ndarray, count: int,
    entering: np.ndarray,
) -> None:  # fmt: skip
    """One dose now: its row in `doses`, and what it brings."""
    liquid = w.asleep[m] and w.luck[m, 2] < 0.5
    amount = _how_much(level, slope, m, w, h, liquid)
    grams = amount * (h.g_per_ml if liquid else h.piece_g)
    treatment = 0.0
    if count > 0:
        treatment = doses[count - 1, 4] + (0.0 if m - doses[count - 1, 0] < 60 else 1.0)
    times = (h.gain_night if w.night[m] else h.gain_day) * w.scatter[int(treatment)]
    swallow(entering, m, grams, times, w.kg[m], k.ramp_min, k.absorption_per_min)
    doses[count] = np.array([m, grams, 1.0 if liquid else 0.0, amount, treatment, times])


@njit(cache=True)
def _eat(m: int, grams: float, ramp: float, rate: float, w: World, food: np.ndarray, entering: np.ndarray) -> None:
    if m < food.size:
        food[m] += grams
        swallow(entering, m, grams, 1.0, w.kg[m], ramp, rate)


@njit(cache=True)
def spend(s0: np.ndarray, n: int, k: Kinetics, w: World, h: Ways) -> Lived:
    s = s0.copy()
    glucose, tissue, insulin, bolus = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    food, entering = np.zeros(n), np.zeros(n)
    doses, states, count, last, stop = np.zeros((n // 60 + 2, 6)), np.zeros((n // 60 + 2, 6)), 0, -9999, -9999
    for m in range(n):
        glucose[m], tissue[m] = s[0], s[5]
        slope = (glucose[m] - glucose[max(0, m - 12)]) / 12.0
        shown = (tissue[m] - tissue[max(0, m - 12)]) / 12.0
        if w.meals[m] > 0.0:
            _eat(m, w.meals[m], MEAL_RAMP_MIN, MEAL_ABSORPTION_PER_MIN, w, food, entering)
        if w.counted[m] > 0.0:
            over = max(0.0, tissue[m] - 170.0) / h.drop_per_unit
            bolus[m] = np.round(10.0 * h.generous * (w.counted[m] / h.grams_per_unit + over)) / 10.0
        if h.suspends and m > stop + 20 and tissue[m] + 25.0 * shown < 75.0:
            stop = m + 60
        rate = 0.0 if m < stop else h.basal_mu_kg * w.kg[m] * w.basal[m] * h.generous**0.5
        insulin[m] = rate + 1000.0 * bolus[m]
        waiting = m - last < 60
        if m - last >= 15 and count < doses.shape[0] and _feels(s[0], slope, m, w, waiting):
            last = m
            if not waiting and w.luck[m, 1] < 0.07:
                _eat(m, 12.0, 12.0, 0.04, w, food, entering)
            else:
                _take(m, s[0], slope, k, w, h, doses, count, entering)
                states[count] = s
                count += 1
                if w.luck[m, 3] < 0.2:
                    wait = 8 + int(55.0 * w.luck[m, 1])
                    _eat(m + wait, 15.0, MEAL_RAMP_MIN, MEAL_ABSORPTION_PER_MIN, w, food, entering)
        minute_on(s, k, w.kg[m], entering[m], insulin[m], w.action[m], w.drive[m])
    return Lived(glucose, tissue, entering, insulin, bolus, food, doses[:count], states[:count])
