"""What the third cohort's sensors show and what its families write down."""

from datetime import timedelta

import numpy as np
import polars as pl

from gramrise.domain.frames import DOSES, EVENTS, READINGS
from virtual.third.living import Calendar, Lived, slow_noise
from virtual.third.persons import WRITES_EXACTLY, WRITES_QUARTERS, Resident

UTC = pl.Datetime("us", "UTC")
WEAR_MIN = 9 * 1440


def sensor_error(rng: np.random.Generator, n: int) -> np.ndarray:
    """[minutes] mg/dL: a wear's offset that wanders, a slow and a quick error."""
    wears = n // WEAR_MIN + 2
    offset = np.interp(np.arange(n), WEAR_MIN * np.arange(wears), rng.normal(0.0, 3.5, wears))
    return offset + 3.5 * slow_noise(rng, n, 50.0) + 2.5 * slow_noise(rng, n, 9.0)


def readings(rng: np.random.Generator, who: Resident, c: Calendar, lived: Lived, error: np.ndarray) -> pl.DataFrame:
    n = lived.shown.size
    at = np.arange(int(rng.integers(who.step)), n, who.step)
    value = lived.shown[at] + error[at] + rng.normal(0.0, 1.5, at.size)
    there = np.ones(n, dtype=bool)
    there[np.arange(n) % WEAR_MIN < 75] = False
    for gap in rng.integers(0, n, rng.poisson(0.25 * n / 1440)):
        there[gap : gap + int(rng.exponential(50.0))] = False
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
    return READINGS.check(frame)


def taken(rng: np.random.Generator, who: Resident, c: Calendar, lived: Lived) -> pl.DataFrame:
    """Every dose, with what the log says of it: logged_at_utc and logged_amount, null where it says nothing."""
    rows = []
    for minute, grams, liquid, amount, treatment, _ in lived.doses.tolist():
        source, step = (who.juice, 10.0) if liquid else (who.tablet, 1.0)
        miscounted = rng.random() < 0.1
        put = max(step, amount + (step if rng.random() < 0.5 else -step)) if miscounted else amount
        when = int(np.clip(_written_minute(rng, who, minute), 0, lived.shown.size - 1))
        logged = rng.random() > 0.09
        rows.append(
            {
                "person_id": who.name,
                "taken_at_utc": c.start_utc + timedelta(minutes=int(minute)),
                "grams": grams,
                "source": source.name,
                "treatment": int(treatment),
                "logged_at_utc": c.start_utc + timedelta(minutes=when) if logged else None,
                "logged_amount": put if logged else None,
            }
        )
    kinds = {"person_id": pl.String(), "taken_at_utc": UTC, "grams": pl.Float64(), "source": pl.String()}
    kinds |= {"treatment": pl.Int64(), "logged_at_utc": UTC, "logged_amount": pl.Float64()}
    return pl.DataFrame(rows, schema=kinds)


def _written_minute(rng: np.random.Generator, who: Resident, minute: float) -> float:
    if rng.random() < 0.08:
        return minute + float(rng.uniform(12, 35))  # remembered late
    if who.writes == WRITES_EXACTLY:
        return minute + round(float(rng.normal(1.0, 2.0)))
    grid = 15.0 if who.writes == WRITES_QUARTERS else 10.0
    return grid * round((minute + float(rng.normal(0.0, 3.0))) / grid)


def dose_log(who: Resident, doses: pl.DataFrame) -> pl.DataFrame:
    by_name = {source.name: source for source in (who.tablet, who.juice)}
    rows = []
    for row in doses.drop_nulls("logged_at_utc").iter_rows(named=True):
        source = by_name[row["source"]]
        rows.append(
            {
                "person_id": who.name,
                "taken_at_utc": row["logged_at_utc"],
                "source": source.name,
                "form": source.form.value,
                "amount": row["logged_amount"],
                "amount_unit": source.unit.value,
                "grams": row["logged_amount"] * source.glucose_per_unit_g,
                "may_be_weaker": False,
                "remarks": [],
                "origin": "file",
            }
        )
    kinds = {name: kind for name, kind in DOSES.schema.items() if name != "ordinal"}
    nth = pl.int_range(1, pl.len() + 1).over("taken_at_utc", "source").cast(pl.Int32)
    return DOSES.check(pl.DataFrame(rows, schema=kinds).with_columns(ordinal=nth))


def event_log(rng: np.random.Generator, who: Resident, c: Calendar, lived: Lived, insulin: bool) -> pl.DataFrame:
    """Three meals in four, snacks and what was eaten after a low among them, most boluses, changes of the sensor."""
    n, rows = lived.shown.size, []

    def add(minute: float, kind: str, amount: float | None) -> None:
        at = c.start_utc + timedelta(minutes=int(min(max(minute, 0), n - 1)))
        rows.append(
            {"person_id": who.name, "at_utc": at, "until_utc": None, "kind": kind, "amount": amount, "text": ""}
        )

    for minute in np.flatnonzero(lived.food).tolist():
        if rng.random() < 0.75:
            add(minute + int(rng.integers(-10, 11)), "food", float(lived.food[minute]))
    for minute in np.flatnonzero(lived.bolus).tolist() if insulin else []:
        if rng.random() < 0.95:
            add(minute, "insulin", float(lived.bolus[minute]))
    for minute in range(WEAR_MIN, n, WEAR_MIN):
        add(minute, "sensor_start", None)
    frame = pl.DataFrame(rows, schema=EVENTS.schema) if rows else EVENTS.empty()
    return EVENTS.check(frame.unique(("at_utc", "kind"), keep="first", maintain_order=True))
