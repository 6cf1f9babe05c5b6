"""Days of the third cohort: what is planned, and one loop in which people eat, inject, hear an alarm and treat."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple

import numpy as np
from numba import njit

from virtual.third.body import GLUCOSE, SHOWN, STATES_N, Body, at_rest, minute_on
from virtual.third.persons import Resident

SCATTER_SD = 0.38
CHAIN_MIN = 60
RATIO_DAYS = 25


@dataclass(frozen=True, slots=True)
class Calendar:
    start_utc: datetime
    minute_of_day: np.ndarray
    night: np.ndarray  # 22:00-07:00
    kg: np.ndarray


class Plans(NamedTuple):
    """By minute, except `scatter`, which is by treatment."""

    night: np.ndarray
    kg: np.ndarray
    meal_g: np.ndarray
    bolus_for_g: np.ndarray
    drive: np.ndarray
    basal: np.ndarray  # share of the basal rate
    error: np.ndarray  # of the sensor, mg/dL
    luck: np.ndarray  # [minutes, 3] uniform
    normal: np.ndarray
    scatter: np.ndarray


class Manners(NamedTuple):
    grams_per_unit: float
    generous: float  # insulin times this
    usual_g_per_kg: float
    piece_g: float
    g_per_ml: float
    gain_day: float
    gain_night: float
    alarm: float
    patience: int
    pump_stops: bool


class Lived(NamedTuple):
    shown: np.ndarray
    blood: np.ndarray
    insulin: np.ndarray  # U per minute
    bolus: np.ndarray
    food: np.ndarray
    at_work: np.ndarray  # g of glucose at work that are swallowed, per minute
    doses: np.ndarray  # minute, grams, liquid, amount, treatment, grams at work
    states: np.ndarray  # before each dose


def calendar(who: Resident, start: date, days: int) -> Calendar:
    begin = datetime.combine(start, time(), tzinfo=who.zone).astimezone(UTC)
    n = days * 1440
    local = np.array([(begin + timedelta(minutes=m)).astimezone(who.zone) for m in range(0, n, 30)])
    of_day = np.array([at.hour * 60 + at.minute for at in local]).repeat(30) + np.tile(np.arange(30), len(local))
    of_day %= 1440
    return Calendar(begin, of_day, (of_day >= 1320) | (of_day < 420), who.kg + who.kg_per_day * np.arange(n) / 1440.0)


def plans(rng: np.random.Generator, who: Resident, c: Calendar, error: np.ndarray) -> Plans:
    n = c.kg.size
    meal, bolus = np.zeros(n), np.zeros(n)
    for hour, size, chance in ((7.5, 0.9, 0.93), (12.8, 1.1, 0.95), (16.0, 0.45, 0.55), (19.2, 1.2, 0.96)):
        for eaten in np.flatnonzero(c.minute_of_day == int(60 * hour)):
            at = int(eaten + 30 * rng.standard_normal())
            if rng.random() > chance or not 20 <= at < n:
                continue
            meal[at] = round(float(size * 10.0 * who.kg**0.37 * rng.lognormal(0.0, 0.3)))
            early = int(rng.integers(-5, 21))
            if rng.random() > 0.06 and at - early < n:
                bolus[at - early] = meal[at] * rng.lognormal(0.0, 0.2)
    daily = 0.15 * np.sin(2 * np.pi * (c.minute_of_day - rng.uniform(0, 1440)) / 1440)
    basal = rng.lognormal(0.0, 0.18, n // 360 + 1).repeat(360)[:n]
    scatter = rng.lognormal(0.0, SCATTER_SD, n // CHAIN_MIN + 2)
    drive = daily + who.drive_sd * slow_noise(rng, n, who.drive_minutes)
    return Plans(
        c.night, c.kg, meal, bolus, drive, basal, error, rng.random((n, 3)), rng.standard_normal(n), scatter
    )  # fmt: skip


def slow_noise(rng: np.random.Generator, n: int, minutes: float) -> np.ndarray:
    """Unit variance, correlation falling to 1/e in so many minutes; drawn every 5 minutes."""
    keep = float(np.exp(-5.0 / minutes))
    kicks = rng.standard_normal(n // 5 + 2) * np.sqrt(1.0 - keep**2)
    out = np.empty(kicks.size)
    out[0] = rng.standard_normal()
    for i in range(1, out.size):
        out[i] = keep * out[i - 1] + kicks[i]
    return np.interp(np.arange(n), 5 * np.arange(out.size), out)


@njit(cache=True)
def live(b: Body, w: Plans, h: Manners, n: int) -> Lived:
    s = at_rest(b)
    shown, blood, insulin, bolus = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    food, at_work = np.zeros(n), np.zeros(n)
    doses, states = np.zeros((n // 15 + 1, 6)), np.zeros((n // 15 + 1, STATES_N))
    count, last, last_dose, treatment, stopped, treating = 0, -10_000, -10_000, -1, -1, False
    for m in range(n):
        seen = s[SHOWN] + w.error[m]
        before = shown[m - 15] + w.error[m - 15] if m >= 15 else seen
        slope = (seen - before) / 15.0
        food[m] += w.meal_g[m]
        if w.bolus_for_g[m] > 0.0:
            over = max(0.0, seen - 160.0) / 6.0 if m - last > 120 else 0.0
            bolus[m] = np.round(20.0 * h.generous * max(0.0, w.bolus_for_g[m] + over) / h.grams_per_unit) / 20.0
        if h.pump_stops and seen + 20.0 * slope < 72.0:
            stopped = m + 45
        rate = 0.0 if m < stopped else b.basal_u_min * w.basal[m] * h.generous**0.7
        insulin[m] = rate + bolus[m]
        if _acts(m, last, treating, seen, slope, s[GLUCOSE], w, h):
            treating, since = True, m - last_dose
            last = m
            if since > CHAIN_MIN:
                if w.luck[m, 2] < 0.06:  # a snack instead, and nobody writes it down
                    food[m] += 15.0
                    continue_minute(s, b, w, m, insulin, food, at_work, shown, blood)
                    continue
                treatment += 1
            last_dose = m
            liquid = w.night[m] and w.luck[m, 1] < 0.6
            lower = 1.0 + 0.02 * (70.0 - min(seen, 100.0))
            wanted = h.usual_g_per_kg * w.kg[m] * min(1.9, max(0.6, lower)) * np.exp(0.22 * w.normal[m])
            unit = 10.0 * h.g_per_ml if liquid else h.piece_g
            amount = max(1.0, np.round(wanted / unit)) * (10.0 if liquid else 1.0)
            grams = amount * (h.g_per_ml if liquid else h.piece_g)
            working = grams * (h.gain_night if w.night[m] else h.gain_day) * w.scatter[treatment]
            doses[count] = np.array([m, grams, 1.0 if liquid else 0.0, amount, treatment, working])
            states[count] = s
            at_work[m] += working
            count += 1
            if w.luck[m, 2] > 0.78 and m + 45 < n:
                food[m + 15 + int(30 * w.luck[m, 1])] += 12.0
        if m - last > 90:
            treating = False
        continue_minute(s, b, w, m, insulin, food, at_work, shown, blood)
    return Lived(shown, blood, insulin, bolus, food, at_work, doses[:count], states[:count])


@njit(cache=True)
def continue_minute(
    s: np.ndarray, b: Body, w: Plans, m: int, insulin: np.ndarray, food: np.ndarray, at_work: np.ndarray,
    shown: np.ndarray, blood: np.ndarray,
) -> None:  # fmt: skip
    minute_on(s, b, w.kg[m], insulin[m], food[m], at_work[m], w.drive[m])
    shown[m], blood[m] = s[SHOWN], s[GLUCOSE]


@njit(cache=True)
def _acts(m: int, last: int, treating: bool, seen: float, slope: float, blood: float, w: Plans, h: Manners) -> bool:
    """Whether glucose is taken this minute: an alarm heard, a low felt, a fast fall, or still low after waiting."""
    if m - last < h.patience:
        return False
    luck = w.luck[m, 0]
    if treating and m - last <= CHAIN_MIN:
        return bool(seen < 72.0 and slope < 0.7 and luck < 0.12)
    if seen < h.alarm:
        return bool(luck < (0.05 if w.night[m] else 0.12))
    if not w.night[m] and blood < 66.0:
        return bool(luck < 0.08)
    return bool(not w.night[m] and seen < 100.0 and slope < -1.1 and luck < 0.03)


def manners(who: Resident, w: Plans, suspends: bool) -> Manners:
    """Habits under which about the wanted number of treatments happens, found on the first weeks."""
    ratio = _grams_per_unit(who)
    h = Manners(
        ratio, 1.0, who.usual_g_per_kg, who.tablet.glucose_per_unit_g, who.juice.glucose_per_unit_g,
        who.gains[0], who.gains[1], who.alarm_mg_dl, who.patience_min, suspends and who.pump,
    )  # fmt: skip
    n = min(RATIO_DAYS * 1440, w.kg.size)
    low, high = 0.75, 1.9
    for _ in range(9):
        h = h._replace(generous=0.5 * (low + high))
        found = live(who.body, w, h, n).doses
        treatments = np.unique(found[:, 4]).size
        low, high = (low, h.generous) if treatments > who.treatments_a_day * n / 1440 else (h.generous, high)
    return h


def _grams_per_unit(who: Resident) -> float:
    """Carbohydrate that one unit covers: the level is back after eight hours."""
    b, n = who.body, 480
    meal, none = np.zeros(n), np.zeros(n)
    meal[0] = 0.8 * who.kg
    ends = []
    units = np.geomspace(0.01, 0.5, 30) * who.kg
    for each in units:
        s = at_rest(b)
        for m in range(n):
            extra = each if m == 0 else 0.0
            minute_on(s, b, who.kg, b.basal_u_min + extra, meal[m], none[m], 0.0)
        ends.append(s[GLUCOSE])
    return float(meal[0] / np.interp(-b.resting, -np.array(ends), units))
