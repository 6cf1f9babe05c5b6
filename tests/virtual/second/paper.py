"""What the sensor shows of the second cohort's tissue, and what its families write down."""

from datetime import timedelta

import numpy as np
import polars as pl

from gramrise.domain.frames import DOSES, EVENTS, READINGS
from virtual.second.living import Calendar, Lived
from virtual.second.someone import Someone

UTC = pl.Datetime("us", "UTC")


def shown(
    rng: np.random.Generator, who: Someone, c: Calendar, tissue: np.ndarray
) -> tuple[pl.DataFrame, list[int], list[tuple[int, int, float]]]:
    """Readings; minutes of sensor changes; dips (minute, minutes, depth)."""
    n = tissue.size
    at = np.arange(int(rng.integers(who.step)), n, who.step)
    changes = list(range(int(rng.integers(1, 10 * 1440)), n, 10 * 1440))
    wear = np.searchsorted(np.array(changes, dtype=int), at, side="right")
    scale, drift = 1 + 0.05 * rng.standard_normal(wear.max() + 1), 4.0 * rng.standard_normal((wear.max() + 1, 2))
    keep = np.exp(-who.step / 18.0)
    wander = np.empty(at.size)
    wander[0] = 4.5 * rng.standard_normal()
    for i, kick in enumerate(rng.standard_normal(at.size - 1), 1):
        wander[i] = keep * wander[i - 1] + 4.5 * np.sqrt(1 - keep**2) * kick
    age = np.arange(at.size) / max(1, at.size)
    value = tissue[at] * scale[wear] + drift[wear, 0] * (1 - age) + drift[wear, 1] * age * 0.5 + wander
    value += 2.0 * rng.standard_normal(at.size) - 4.0 * (scale[wear] - 1) * 20
    dips, pressed = _pressed(rng, c)
    value -= pressed[at]
    there = np.ones(n, dtype=bool)
    for change in changes:
        there[change : change + 60] = False
    for _ in range(rng.poisson(0.3 * n / 1440)):
        gap = int(rng.integers(n))
        there[gap : gap + int(rng.gamma(1.2, 25.0))] = False
    seen = there[at]
    at, value = at[seen], np.round(value[seen])
    frame = pl.DataFrame(
        {
            "person_id": [who.name] * at.size,
            "at_utc": pl.Series([c.start_utc + timedelta(minutes=int(m)) for m in at], dtype=UTC),
            "glucose_mg_dl": np.clip(value, 40.0, 400.0),
            "range": np.where(value < 40, "below", np.where(value > 400, "above", "in")),
            "offset_minutes": pl.Series([None] * at.size, dtype=pl.Int32),
        }
    )
    return READINGS.check(frame), changes, dips


def _pressed(rng: np.random.Generator, c: Calendar) -> tuple[list[tuple[int, int, float]], np.ndarray]:
    """Dips at night, a slanting trapezoid: down in 10 minutes, back in 20 (T20 for length and depth)."""
    down, dips = np.zeros(c.clock.size), []
    nights = np.flatnonzero(c.asleep)
    for _ in range(rng.poisson(0.12 * (c.day[-1] + 1))):
        at = int(rng.choice(nights))
        long, deep = int(rng.gamma(14.0, 45 / 14.0)), float(rng.gamma(4.5, 24 / 4.2))
        course = np.interp(np.arange(long + 30), [0, 10, long, long + 20], [0, deep, deep * 0.8, 0])
        down[at : at + course.size] += course[: down.size - at]
        dips.append((at, long, deep))
    return dips, down


def written(rng: np.random.Generator, who: Someone, c: Calendar, lived: Lived) -> tuple[pl.DataFrame, pl.DataFrame]:
    """(what was taken, with what the log says of it; the log)"""
    taken = []
    for minute, grams, liquid, amount, treatment, _ in lived.doses:
        source = who.liquid if liquid else who.piece
        step = 10.0 if liquid else 1.0
        off = rng.random() < 0.1
        put = max(step, amount + step * (1 if rng.random() < 0.5 else -1)) if off else float(amount)
        late = rng.normal(0.0, 5.0) if rng.random() < 0.9 else rng.choice([-1, 1]) * rng.uniform(15, 30)
        when = c.start_utc + timedelta(minutes=int(np.clip(minute + round(late), 0, c.clock.size - 1)))
        logged = rng.random() >= 0.1
        taken.append(
            {
                "person_id": who.name,
                "taken_at_utc": c.start_utc + timedelta(minutes=int(minute)),
                "grams": float(grams),
                "source": source.name,
                "treatment": int(treatment),
                "logged_at_utc": when if logged else None,
                "logged_amount": put if logged else None,
            }
        )
    schema = {"person_id": pl.String(), "taken_at_utc": UTC, "grams": pl.Float64(), "source": pl.String(),
              "treatment": pl.Int64(), "logged_at_utc": UTC, "logged_amount": pl.Float64()}  # fmt: skip
    table = pl.DataFrame(taken, schema=schema)
    return table, _log(who, table)


def _log(who: Someone, taken: pl.DataFrame) -> pl.DataFrame:
    known = {s.name: s for s in (who.piece, who.liquid)}
    rows = [
        {
            "person_id": who.name,
            "taken_at_utc": row["logged_at_utc"],
            "source": row["source"],
            "form": known[row["source"]].form.value,
            "amount": row["logged_amount"],
            "amount_unit": known[row["source"]].unit.value,
            "grams": row["logged_amount"] * known[row["source"]].glucose_per_unit_g,
            "may_be_weaker": False,
            "remarks": [],
            "origin": "file",
            "noticed": "",
        }
        for row in taken.drop_nulls("logged_at_utc").iter_rows(named=True)
    ]
    schema = {name: kind for name, kind in DOSES.schema.items() if name != "ordinal"}
    number = pl.int_range(1, pl.len() + 1).over("taken_at_utc", "source").cast(pl.Int32)
    return DOSES.check(pl.DataFrame(rows, schema=schema).with_columns(ordinal=number))


def happenings(
    rng: np.random.Generator, who: Someone, c: Calendar, lived: Lived, changes: list[int], insulin_logged: bool
) -> pl.DataFrame:
    rows = []

    def put(minute: int, kind: str, amount: float | None, until: int | None = None) -> None:
        at = c.start_utc + timedelta(minutes=int(min(max(minute, 0), c.clock.size - 1)))
        end = None if until is None else c.start_utc + timedelta(minutes=int(until))
        rows.append({"person_id": who.name, "at_utc": at, "until_utc": end, "kind": kind, "amount": amount, "text": ""})

    for minute in np.flatnonzero(lived.food):
        late, forgotten = int(rng.integers(-6, 9)), rng.random() < 0.2
        if not forgotten:
            put(int(minute) + late, "food", float(lived.food[minute]))
    for minute in np.flatnonzero(lived.bolus):
        if rng.random() < 0.97 and insulin_logged:
            put(int(minute), "insulin", float(lived.bolus[minute]))
    for begin, end in c.sport:
        if rng.random() < 0.65:
            put(begin, "activity", None, end)
    for change in changes:
        put(change, "sensor_start", None)
    frame = pl.DataFrame(rows, schema=EVENTS.schema) if rows else EVENTS.empty()
    return EVENTS.check(frame.unique(("at_utc", "kind"), keep="first", maintain_order=True))
