"""The second cohort, in the container of the first."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from virtual import Cohort
from virtual.second.living import Calendar, World, calendar, spend, world
from virtual.second.paper import happenings, shown, written
from virtual.second.settling import REFERENCE_G_PER_KG, settle, truths
from virtual.second.someone import Someone, draw

BANDS = ("daytime", "overnight")
UTC = pl.Datetime("us", "UTC")


@dataclass(frozen=True, slots=True)
class SecondSpec:
    """Every third person has a 15-minute sensor."""

    seed: int
    persons: int = 16
    days: int = 60
    insulin_logged: bool = True
    start: date = date(2025, 1, 6)
    suspension: bool = False


def second_cohort(spec: SecondSpec) -> Cohort:
    """Seeded and exact, as the first."""
    inputs, truth, doses, dips, levels = [], [], [], [], {}
    for number in range(spec.persons):
        rng = np.random.default_rng(7_000_000 + 10_000 * spec.seed + number)
        who = draw(rng, f"second{spec.seed}-{number:03d}", spec.start, 15 if number % 3 == 1 else 5)
        c = calendar(rng, who, spec.start, spec.days)
        w = world(rng, c)
        state, ways = settle(who, w, spec.suspension and who.pump)
        lived = spend(state, c.clock.size, who.kinetics, w, ways)
        readings, changes, pressed = shown(rng, who, c, lived.tissue)
        taken, log = written(rng, who, c, lived)
        person = who.as_person(spec.start, spec.days, rng)
        events = happenings(rng, who, c, lived, changes, spec.insulin_logged)
        inputs.append(Inputs(person=person, readings=readings, doses=log, events=events))
        truth.append(_truth(who, c, w, taken, truths(who, w, ways, lived)))
        doses.append(taken)
        dips += [(who.name, c.start_utc + timedelta(minutes=at), long, deep) for at, long, deep in pressed]
        levels[who.name] = lived.glucose
    table = pl.concat(truth)
    per_band = table.group_by("person_id", "band").agg(
        pl.col("true_factor_mg_dl_per_g").median(),
        treatments_n=pl.len().cast(pl.Int32),
        logged_n=pl.col("logged_first_dose_utc").is_not_null().sum().cast(pl.Int32),
    )
    schema = {"person_id": pl.String(), "at_utc": UTC, "minutes": pl.Int64(), "depth_mg_dl": pl.Float64()}
    dip_frame = pl.DataFrame(dips, schema=schema, orient="row")
    return Cohort(inputs, table, per_band.sort("person_id", "band"), pl.concat(doses), dip_frame, levels, ())


def _truth(who: Someone, c: Calendar, w: World, taken: pl.DataFrame, found: tuple[np.ndarray, ...]) -> pl.DataFrame:
    minute, tissue, blood, to_peak, grams, did, number = found
    kg = w.kg[minute]
    frame = pl.DataFrame(
        {
            "person_id": [who.name] * minute.size,
            "treatment": number.astype(np.int64),
            "first_dose_utc": pl.Series([c.start_utc + timedelta(minutes=int(m)) for m in minute], dtype=UTC),
            "band": pl.Series([BANDS[int(night)] for night in w.night[minute]], dtype=pl.String),
            "weight_kg": kg,
            "reference_grams": REFERENCE_G_PER_KG * kg,
            "true_factor_mg_dl_per_g": tissue / kg,
            "true_blood_factor_mg_dl_per_g": blood / kg,
            "minutes_to_peak": to_peak,
            "grams": grams,
            "true_rise_mg_dl": did,
        },
        schema_overrides={"person_id": pl.String},
    )
    logged = taken.group_by("treatment").agg(logged_first_dose_utc=pl.col("logged_at_utc").min())
    return frame.join(logged, on="treatment", how="left", maintain_order="left")
