"""How a person's days are meant to go: meals, mealtime insulin, sport, sleep, and what no log explains, by minute."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from gramrise.domain.bands import DEFAULT_BANDS
from virtual.hovorka import Floats
from virtual.people import BAND_NAMES, PersonPlan
from virtual.settings import DaysSettings, VirtualSettings

HOUR = 60
DAY = 24 * HOUR
SLOW_STEP = 5  # minutes between draws of the slow swings; straight lines between


@dataclass(frozen=True, slots=True)
class Days:
    """Arrays by minute from `start_utc`; nothing in them depends on the level."""

    start_utc: datetime
    kg: Floats
    local_minute: NDArray[np.int64]  # minute of the local day
    local_day: NDArray[np.int64]  # 0, 1, ...
    band: NDArray[np.int64]  # index into BAND_NAMES
    awake: NDArray[np.bool_]
    food_g: Floats
    bolus_for_g: Floats  # carbohydrate as counted, for which insulin is given in that minute
    sensitivity: Floats
    flux_mmol_per_kg_min: Floats
    basal_share: Floats
    sport: tuple[tuple[int, int], ...]  # (first minute, end minute)

    @property
    def minutes(self) -> int:
        return self.kg.size


def plan_days(rng: np.random.Generator, plan: PersonPlan, start: date, days: int, settings: VirtualSettings) -> Days:
    """The plan for `days` local days from local midnight of `start`."""
    ours = settings.days
    midnights, start_utc = _midnights(plan, start, days)
    n = midnights[-1]
    local_day = np.repeat(np.arange(days), np.diff(midnights))
    local_minute = _local_minutes(plan, start_utc, n)
    awake = np.zeros(n, dtype=bool)
    food, bolus = np.zeros(n), np.zeros(n)
    sport: list[tuple[int, int]] = []
    growth = (1.0 + plan.growth_per_year) ** (local_day / 365.25)
    for first in midnights[:-1]:
        wake = first + round(ours.wake_hour * HOUR + ours.waking_sd_min * rng.standard_normal())
        sleep = first + round(ours.sleep_hour * HOUR + ours.waking_sd_min * rng.standard_normal())
        awake[max(0, wake) : sleep] = True
        _plan_meals(rng, ours, plan, first, food, bolus)
        if rng.random() < ours.activity_chance:
            begin = first + round(ours.activity_hour * HOUR + ours.activity_sd_min * rng.standard_normal())
            sport.append((begin, begin + round(rng.uniform(ours.activity_least_min, ours.activity_most_min))))
    flux = ours.drive_sd_mmol_per_kg_min * _swing(rng, n, ours.drive_time_min)
    sensitivity = _sensitivity(rng, ours, local_minute, local_day)
    _do_sport(ours, tuple(sport), sensitivity, flux)
    return Days(
        start_utc=start_utc,
        kg=plan.weight_kg * growth,
        local_minute=local_minute,
        local_day=local_day,
        band=_bands(local_minute),
        awake=awake,
        food_g=food,
        bolus_for_g=bolus,
        sensitivity=sensitivity,
        flux_mmol_per_kg_min=flux,
        basal_share=_basal(rng, ours, local_minute),
        sport=tuple(sport),
    )


def _midnights(plan: PersonPlan, start: date, days: int) -> tuple[list[int], datetime]:
    """Minutes of each local midnight after the first, the end of the last day included; and the first in UTC."""
    instants = [
        datetime.combine(start + timedelta(days=d), time(), tzinfo=plan.zone).astimezone(UTC) for d in range(days + 1)
    ]
    return [round((i - instants[0]).total_seconds() / 60) for i in instants], instants[0]


def _local_minutes(plan: PersonPlan, start_utc: datetime, n: int) -> NDArray[np.int64]:
    """Minute of the local day for each minute; offsets change on quarter hours at the finest."""
    quarter = 15
    firsts = [(start_utc + timedelta(minutes=m)).astimezone(plan.zone) for m in range(0, n, quarter)]
    begun = np.array([f.hour * HOUR + f.minute for f in firsts], dtype=np.int64)
    return (np.repeat(begun, quarter)[:n] + np.arange(n) % quarter) % DAY


def _bands(local_minute: NDArray[np.int64]) -> NDArray[np.int64]:
    day = DEFAULT_BANDS[BAND_NAMES.index("daytime")]
    begin, end = day.start.hour * HOUR + day.start.minute, day.end.hour * HOUR + day.end.minute
    return np.where((local_minute >= begin) & (local_minute < end), 0, 1)


def _plan_meals(
    rng: np.random.Generator, ours: DaysSettings, plan: PersonPlan, first: int, food: Floats, bolus: Floats
) -> None:
    daily = ours.daily_carbohydrate_g * plan.weight_kg**0.4
    for share, hour, chance in zip(ours.meal_shares, ours.meal_hours, ours.meal_chances, strict=True):
        at = first + round(hour * HOUR + ours.meal_sd_min * rng.standard_normal())
        grams = round(daily * share * float(np.exp(ours.meal_sd_log * rng.standard_normal())))
        counted = grams * float(np.exp(ours.counting_sd_log * rng.standard_normal()))
        insulin_at = at + round(-ours.bolus_early_min + ours.bolus_sd_min * rng.standard_normal())
        eaten, missed = rng.random() < chance, rng.random() < ours.bolus_missed_share
        if not eaten or not (0 <= at < food.size and 0 <= insulin_at < food.size):
            continue
        food[at] += grams
        if not missed:
            bolus[insulin_at] += counted


def _swing(rng: np.random.Generator, n: int, time_min: float) -> Floats:
    """A first-order random swing with sd 1 and this time constant; straight lines between draws."""
    keep = float(np.exp(-SLOW_STEP / time_min))
    draws = rng.standard_normal(n // SLOW_STEP + 2)
    draws[1:] *= np.sqrt(1.0 - keep**2)
    knots = lfilter([1.0], [1.0, -keep], draws)
    swing: Floats = np.interp(np.arange(n), np.arange(knots.size) * SLOW_STEP, knots)
    return swing


def _sensitivity(
    rng: np.random.Generator, ours: DaysSettings, local_minute: NDArray[np.int64], local_day: NDArray[np.int64]
) -> Floats:
    n = local_minute.size
    daily = ours.sensitivity_daily_sd_log * rng.standard_normal(int(local_day[-1]) + 1)[local_day]
    # The dawn: a bump centred on 06:00 local.
    dawn = ours.dawn_share * np.exp(-0.5 * ((local_minute - 6 * HOUR) / 75.0) ** 2)
    sensitivity: Floats = np.exp(ours.sensitivity_sd_log * _swing(rng, n, ours.sensitivity_time_min) + daily - dawn)
    return sensitivity


def _basal(rng: np.random.Generator, ours: DaysSettings, local_minute: NDArray[np.int64]) -> Floats:
    """Share of the right basal rate, anew every twelve hours; smooth only through the depot."""
    half_days = np.cumsum(np.r_[0, np.diff(local_minute // (DAY // 2)) != 0])
    share: Floats = np.exp(ours.basal_sd_log * rng.standard_normal(int(half_days[-1]) + 1)[half_days])
    return share


def _do_sport(ours: DaysSettings, sport: tuple[tuple[int, int], ...], sensitivity: Floats, flux: Floats) -> None:
    for begin, end in sport:
        flux[max(0, begin) : max(0, end)] -= ours.activity_uptake_mmol_per_kg_min
        after = sensitivity[max(0, begin) :]
        fading = np.exp(-np.maximum(0, np.arange(after.size) - (end - begin)) / ours.activity_lasts_min)
        after *= 1.0 + (ours.activity_sensitivity - 1.0) * fading * (fading > 0.05)
