"""Rises put into real traces where nothing was eaten, and placebos: the same times with nothing put in.

Traces are read in place from the folder of outside data (GRAMRISE_OUTSIDE_DATA), never copied. The shape put in, a
log-normal hump, is outside the fitted family; times are chosen by level and slope at the time, never by what follows.
"""

import csv
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, READINGS
from gramrise.domain.person import Dated, Person
from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.domain.units import MG_DL_PER_MMOL_L

OUTSIDE = "GRAMRISE_OUTSIDE_DATA"
# Weight is published for the adolescents only; for adults a round one (it cancels: amounts go by weight).
ADULT_KG = 70.0
SCATTER_SD, EXPONENT, TIME_SD_MIN, FAR_SHARE = 0.45, 0.85, 5.0, 0.10
LEVELS_MG_DL, STEEPEST_RISE = (70.0, 140.0), 0.7
QUIET_HOURS = 3.0  # no food logged so long before; what is logged afterwards cuts the window, as in use
APART_HOURS = 5.0
# One shape a trace and turn, a little change each time. Widths leave 0.50-0.72 of the top at 90 minutes.
HUMP_TOP_MIN, HUMP_WIDTH, EACH_TIME_SD_LOG = (36.0, 46.0), (0.65, 0.95), 0.12
SHOWN_MIN = 300


@dataclass(frozen=True, slots=True)
class Trace:
    name: str
    kg: float
    at: np.ndarray  # datetime64[m]
    mg_dl: np.ndarray
    food_at: np.ndarray
    food_g: np.ndarray
    insulin_at: np.ndarray
    units: np.ndarray
    complete_log: bool


def real_traces() -> list[Trace]:
    """All traces of the outside data; empty when the folder is not there."""
    root = os.environ.get(OUTSIDE)
    folder = Path(root) / "datasets" if root else None
    if folder is None or not folder.is_dir():
        return []
    return [
        *_adults_with_logs(folder / "t1d_uom"),
        *_adolescents(folder / "adolescents_nl"),
        *_adults(folder / "hupa_ucm"),
    ]


def _minute(text: str, form: str) -> np.datetime64:
    # Clock times as written; the zone plays no part here.
    return np.datetime64(datetime.strptime(text, form).replace(tzinfo=UTC).replace(tzinfo=None), "m")


def _column(path: Path, when: str, value: str, form: str) -> tuple[np.ndarray, np.ndarray]:
    rows = []
    if path.is_file():
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = [(_minute(row[when], form), float(row[value])) for row in csv.DictReader(file) if row[value]]
    rows.sort()
    return np.array([r[0] for r in rows], dtype="datetime64[m]"), np.array([r[1] for r in rows], dtype=float)


def _adults_with_logs(folder: Path) -> Iterator[Trace]:
    form = "%d/%m/%Y %H:%M"
    for number in ("2305", "2306", "2320"):
        at, mmol = _column(folder / f"UoMGlucose{number}.csv", "bg_ts", "value", form)
        food = _column(folder / f"UoMNutrition{number}.csv", "meal_ts", "carbs_g", form)
        bolus = _column(folder / f"UoMBolus{number}.csv", "bolus_ts", "bolus_dose", form)
        yield _thinned(Trace(f"uom{number}", ADULT_KG, at, mmol * MG_DL_PER_MMOL_L, *food, *bolus, True))


def _adolescents(folder: Path) -> Iterator[Trace]:
    kilos = {r["subject"]: float(r["weight_kg"]) for r in csv.DictReader((folder / "population.csv").open())}
    rows: dict[str, list[tuple[np.datetime64, float]]] = {}
    for row in csv.DictReader((folder / "glucose.csv").open()):
        if row["source"] == "interval" and row["glucose_mmol_l"] and row["utc_offset_h"]:
            at = _minute(row["local_datetime"][:16], "%Y-%m-%dT%H:%M")
            rows.setdefault(row["subject"], []).append((at, float(row["glucose_mmol_l"])))
    none = (np.array([], dtype="datetime64[m]"), np.array([]))
    for subject, found in sorted(rows.items()):
        found.sort()
        at, mmol = np.array([f[0] for f in found]), np.array([f[1] for f in found])
        yield _thinned(Trace(f"nl{subject}", kilos[subject], at, mmol * MG_DL_PER_MMOL_L, *none, *none, False))


def _adults(folder: Path) -> Iterator[Trace]:
    for path in sorted(folder.glob("*.csv")):
        rows = list(csv.DictReader(path.open(), delimiter=";"))
        at = np.array([_minute(row["time"][:16], "%Y-%m-%dT%H:%M") for row in rows])
        mg_dl, food, bolus = (
            np.array([float(row[name] or 0) for row in rows])
            for name in ("glucose", "carb_input", "bolus_volume_delivered")
        )
        # Servings and grams are mixed: only that something was eaten is used.
        eaten, given = food > 0, bolus > 0
        yield _thinned(Trace(path.stem, ADULT_KG, at, mg_dl, at[eaten], 0 * food[eaten], at[given], bolus[given], True))


def _thinned(trace: Trace) -> Trace:
    """One reading an instant, and none less than 4 minutes after the one kept before."""
    order = np.argsort(trace.at, kind="stable")
    kept, last = [], None
    for i in order:
        if last is None or trace.at[i] - last >= np.timedelta64(4, "m"):
            kept.append(i)
            last = trace.at[i]
    return Trace(
        trace.name, trace.kg, trace.at[kept], trace.mg_dl[kept], trace.food_at, trace.food_g, trace.insulin_at,
        trace.units, trace.complete_log,
    )  # fmt: skip


def chosen_times(trace: Trace, rng: np.random.Generator, most: int) -> np.ndarray:
    """Minutes (datetime64) at which glucose could have been given: by level, slope and an empty food log alone."""
    minute = np.timedelta64(1, "m")
    found: list[np.datetime64] = []
    for i in rng.permutation(trace.at.size):
        t = trace.at[i] + int(rng.integers(0, 5)) * minute
        before = (trace.at > t - 45 * minute) & (trace.at <= t)
        # Steps of up to 15 minutes: three readings in the 45 minutes before.
        if before.sum() < 3 or not LEVELS_MG_DL[0] <= trace.mg_dl[i] <= LEVELS_MG_DL[1]:
            continue
        ago = (t - trace.at[before]) / minute
        if -np.polyfit(ago, trace.mg_dl[before], 1)[0] > STEEPEST_RISE:
            continue
        after = (trace.food_at - t) / minute
        if ((after > -60 * QUIET_HOURS) & (after < 0)).any():
            continue
        if any(abs((t - other) / minute) < 60 * APART_HOURS for other in found):
            continue
        found.append(t)
        if len(found) == most:
            break
    return np.array(sorted(found), dtype="datetime64[m]")


def treated(trace: Trace, times: np.ndarray, k: tuple[float, float], rng: np.random.Generator) -> tuple[Inputs, dict]:
    """The trace with rises put in, as inputs, and the true factor of each band (mg/dL per g; 0 for a placebo)."""
    mg_dl, scatters, rows = trace.mg_dl.copy(), {0: [], 1: []}, []
    usual_top, width = rng.uniform(*HUMP_TOP_MIN), rng.uniform(*HUMP_WIDTH)
    for t in times:
        hour = int(str(t)[11:13])
        band = 0 if 7 <= hour < 22 else 1
        grams = float(rng.uniform(0.1, 0.25) * trace.kg)
        scatter = float(np.exp(SCATTER_SD * rng.standard_normal()))
        reference = REFERENCE_GRAMS_PER_KG * trace.kg
        top = k[band] / trace.kg * scatter * reference ** (1 - EXPONENT) * grams**EXPONENT
        after = (trace.at - t) / np.timedelta64(1, "m")
        on = (after > 0) & (after < SHOWN_MIN)
        peak = usual_top * np.exp(EACH_TIME_SD_LOG * rng.standard_normal())
        mg_dl[on] += top * np.exp(-0.5 * (np.log(after[on] / peak) / width) ** 2)
        off = rng.normal(0, TIME_SD_MIN)
        if rng.random() < FAR_SHARE:
            off = float(rng.choice([-1, 1]) * rng.uniform(15, 25))
        scatters[band].append(scatter)
        rows.append((t + np.timedelta64(round(off), "m"), grams))
    names = ("daytime", "overnight")
    truth = {names[b]: k[b] / trace.kg * float(np.median(s)) for b, s in scatters.items() if s}
    return _inputs(trace, mg_dl, rows), truth


def _inputs(trace: Trace, mg_dl: np.ndarray, rows: list[tuple[np.datetime64, float]]) -> Inputs:
    first = trace.at[0].astype("datetime64[D]").astype(date) - timedelta(days=30)
    person = Person(
        person_id=trace.name,
        born=date(1990, 1, 1),
        zone=Dated(((first, ZoneInfo("UTC")),)),
        weights_kg=Dated(((first, trace.kg),)),
    )
    readings = pl.DataFrame({"at_utc": _utc(trace.at), "glucose_mg_dl": mg_dl}).with_columns(
        person_id=pl.lit(trace.name), range=pl.lit("in"), offset_minutes=pl.lit(0, dtype=pl.Int32)
    )
    return Inputs(
        person=person,
        readings=READINGS.check(readings),
        doses=_doses(trace.name, rows),
        events=EVENTS.check(pl.concat([_events(trace, *part) for part in _logged(trace)])),
    )


def _doses(name: str, rows: list[tuple[np.datetime64, float]]) -> pl.DataFrame:
    at, grams = np.array([r[0] for r in rows], dtype="datetime64[m]"), [r[1] for r in rows]
    return DOSES.check(
        pl.DataFrame({"taken_at_utc": _utc(at), "amount": grams, "grams": grams}).with_columns(
            person_id=pl.lit(name),
            source=pl.lit(""),
            ordinal=pl.lit(1, dtype=pl.Int32),
            form=pl.lit("tablet"),
            amount_unit=pl.lit("g"),
            may_be_weaker=pl.lit(False),
            remarks=pl.lit([], dtype=pl.List(pl.String)),
            origin=pl.lit("file"),
            noticed=pl.lit(""),
        )
    )


def _logged(trace: Trace) -> tuple[tuple[str, np.ndarray, np.ndarray], ...]:
    return ("food", trace.food_at, trace.food_g), ("insulin", trace.insulin_at, trace.units)


def _events(trace: Trace, kind: str, at: np.ndarray, amount: np.ndarray) -> pl.DataFrame:
    """Events of one kind, one an instant; an amount of 0 means that none is known."""
    known = pl.Series([float(v) if v > 0 else None for v in amount], dtype=pl.Float64)
    return (
        pl.DataFrame({"at_utc": _utc(at), "amount": known})
        .unique("at_utc", keep="first")
        .with_columns(
            person_id=pl.lit(trace.name),
            until_utc=pl.lit(None, dtype=pl.Datetime("us", "UTC")),
            kind=pl.lit(kind),
            text=pl.lit(""),
        )
        .select(list(EVENTS.schema))
    )


def _utc(at: np.ndarray) -> pl.Series:
    return pl.Series(at.astype("datetime64[us]")).dt.replace_time_zone("UTC")
