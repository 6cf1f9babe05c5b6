"""What the family writes down of what happened: late, rounded, with a piece too many, or not at all."""

from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import polars as pl

from gramrise.domain.frames import DOSES, EVENTS
from gramrise.domain.sources import AmountUnit
from gramrise.domain.words import EventKind
from virtual.days import Days
from virtual.people import PersonPlan
from virtual.settings import LoggingSettings
from virtual.ways import AMOUNT, GRAMS, LIQUID, MINUTE, TREATMENT, Life

ML_STEP = 5.0


def happened_doses(
    rng: np.random.Generator, plan: PersonPlan, life: Life, days: Days, ours: LoggingSettings
) -> pl.DataFrame:
    """Every dose swallowed, with what the log makes of it: logged_at_utc and logged_amount, null when not logged."""
    rows = []
    for dose in life.doses:
        liquid = dose[LIQUID] > 0
        source = plan.liquid if liquid else plan.pieces
        logged = rng.random() >= ours.dose_unlogged_share
        late = _time_error_min(rng, ours)
        off, way = rng.random() < ours.dose_piece_off_share, 1.0 if rng.random() < 0.5 else -1.0
        step = ML_STEP if liquid else 1.0
        amount = max(step, dose[AMOUNT] + step * way) if off else float(dose[AMOUNT])
        minute = int(dose[MINUTE])
        rows.append(
            {
                "person_id": plan.person_id,
                "taken_at_utc": _instant(days, minute),
                "grams": float(dose[GRAMS]),
                "source": source.name,
                "treatment": int(dose[TREATMENT]),
                "logged_at_utc": _instant(days, min(max(0, minute + late), days.minutes - 1)) if logged else None,
                "logged_amount": amount if logged else None,
            }
        )
    schema = {
        "person_id": pl.String(),
        "taken_at_utc": pl.Datetime("us", "UTC"),
        "grams": pl.Float64(),
        "source": pl.String(),
        "treatment": pl.Int64(),
        "logged_at_utc": pl.Datetime("us", "UTC"),
        "logged_amount": pl.Float64(),
    }
    return pl.DataFrame(rows, schema=schema)


def logged_doses(plan: PersonPlan, happened: pl.DataFrame) -> pl.DataFrame:
    """The doses as logged, per their contract."""
    sources = {source.name: source for source in (plan.pieces, plan.liquid)}
    rows: list[dict[str, Any]] = []
    for dose in happened.filter(pl.col("logged_at_utc").is_not_null()).iter_rows(named=True):
        source = sources[dose["source"]]
        rows.append(
            {
                "person_id": plan.person_id,
                "taken_at_utc": dose["logged_at_utc"],
                "source": source.name,
                "form": source.form.value,
                "amount": dose["logged_amount"],
                "amount_unit": source.unit.value,
                "grams": source.grams(dose["logged_amount"], AmountUnit(source.unit)),
                "may_be_weaker": source.may_be_weaker,
                "remarks": [],
                "origin": "file",
                "noticed": "",
            }
        )
    if not rows:
        return DOSES.empty()
    schema = {name: dtype for name, dtype in DOSES.schema.items() if name != "ordinal"}
    frame = pl.DataFrame(rows, schema=schema)
    ordinal = pl.int_range(1, pl.len() + 1).over("taken_at_utc", "source").cast(pl.Int32)
    return DOSES.check(frame.with_columns(ordinal=ordinal))


def logged_events(
    rng: np.random.Generator, plan: PersonPlan, life: Life, days: Days, insulin_logged: bool, begun: tuple[int, ...],
    sport_logged_share: float, ours: LoggingSettings,
) -> pl.DataFrame:  # fmt: skip
    """Food, insulin, sport and sensor changes as logged, per their contract."""
    rows: list[dict[str, Any]] = []

    def note(minute: int, kind: EventKind, amount: float | None, until: int | None = None) -> None:
        rows.append(
            {
                "person_id": plan.person_id,
                "at_utc": _instant(days, min(max(0, minute), days.minutes - 1)),
                "until_utc": None if until is None else _instant(days, until),
                "kind": kind.value,
                "amount": amount,
                "text": "",
            }
        )

    for minute in np.flatnonzero(life.food_g):
        late = round(ours.food_time_sd_min * float(rng.standard_normal()))
        if rng.random() >= ours.food_unlogged_share:
            note(int(minute) + late, EventKind.FOOD, float(life.food_g[minute]))
    for minute in np.flatnonzero(life.bolus_units):
        if rng.random() >= ours.insulin_unlogged_share and insulin_logged:
            note(int(minute), EventKind.INSULIN, round(float(life.bolus_units[minute]), 2))
    for begin, end in days.sport:
        if rng.random() < sport_logged_share and 0 <= begin < days.minutes:
            note(begin, EventKind.ACTIVITY, None, end)
    for minute_begun in begun:
        if minute_begun >= 0:
            note(minute_begun, EventKind.SENSOR_START, None)
    frame = pl.DataFrame(rows, schema=EVENTS.schema) if rows else EVENTS.empty()
    return EVENTS.check(frame.unique(("at_utc", "kind"), keep="first", maintain_order=True))


def weighings(
    rng: np.random.Generator, days: Days, start: date, ours: LoggingSettings
) -> tuple[tuple[date, float], ...]:
    """(local date, kg) every so many days from the first, to 0.1 kg."""
    found = []
    for day in range(0, int(days.local_day[-1]) + 1, ours.weighing_every_days):
        kg = float(days.kg[int(np.searchsorted(days.local_day, day))])
        found.append((start + timedelta(days=day), round(kg + ours.weighing_sd_kg * rng.standard_normal(), 1)))
    return tuple(found)


def _time_error_min(rng: np.random.Generator, ours: LoggingSettings) -> int:
    near = ours.dose_time_sd_min * float(rng.standard_normal())
    far = float(rng.uniform(ours.dose_time_far_least_min, ours.dose_time_far_most_min))
    if rng.random() < ours.dose_time_far_share:
        return round(far if near > 0 else -far)
    return round(near)


def _instant(days: Days, minute: int) -> datetime:
    return days.start_utc + timedelta(minutes=minute)
