"""The third cohort in the container of the first, with its truth by twins."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from virtual.cohort import Cohort
from virtual.third.body import shown_over
from virtual.third.living import Calendar, Lived, Manners, Plans, calendar, live, manners, plans
from virtual.third.persons import REFERENCE_G_PER_KG, Resident, resident
from virtual.third.writing import dose_log, event_log, readings, sensor_error, taken

UTC = pl.Datetime("us", "UTC")
TWIN_MIN = 180


@dataclass(frozen=True, slots=True)
class ThirdSpec:
    """Every third person has a 15-minute sensor."""

    seed: int
    persons: int = 16
    days: int = 60
    insulin_logged: bool = True
    start: date = date(2025, 1, 6)
    suspension: bool = False


def third_cohort(spec: ThirdSpec) -> Cohort:
    """The same spec gives the same bytes; there are no dips in this cohort."""
    inputs, truth, doses, levels = [], [], [], {}
    for number in range(spec.persons):
        rng = np.random.default_rng([333, spec.seed, number])
        who = resident(rng, f"third{spec.seed}-{number:03d}", spec.start, 15 if number % 3 == 0 else 5)
        c = calendar(who, spec.start, spec.days)
        error = sensor_error(rng, c.kg.size)
        w = plans(rng, who, c, error)
        h = manners(who, w, spec.suspension)
        lived = live(who.body, w, h, c.kg.size)
        all_doses = taken(rng, who, c, lived)
        inputs.append(
            Inputs(
                person=who.as_person(spec.start, spec.days, rng),
                readings=readings(rng, who, c, lived, error),
                doses=dose_log(who, all_doses),
                events=event_log(rng, who, c, lived, spec.insulin_logged),
            )
        )
        truth.append(_truth(who, c, w, h, lived, all_doses))
        doses.append(all_doses)
        levels[who.name] = lived.blood
    table = pl.concat(truth)
    bands = table.group_by("person_id", "band").agg(
        pl.col("true_factor_mg_dl_per_g").median(),
        treatments_n=pl.len().cast(pl.Int32),
        logged_n=pl.col("logged_first_dose_utc").is_not_null().sum().cast(pl.Int32),
    )
    dips = {"person_id": pl.String(), "at_utc": UTC, "minutes": pl.Int64(), "depth_mg_dl": pl.Float64()}
    return Cohort(
        inputs, table, bands.sort("person_id", "band"), pl.concat(doses), pl.DataFrame(schema=dips), levels, ()
    )  # fmt: skip


def _truth(who: Resident, c: Calendar, w: Plans, h: Manners, lived: Lived, doses: pl.DataFrame) -> pl.DataFrame:
    rows = []
    for number in np.unique(lived.doses[:, 4]):
        mine = np.flatnonzero(lived.doses[:, 4] == number)
        first = int(lived.doses[mine[0], 0])
        if first + TWIN_MIN > lived.shown.size:
            continue
        shown, blood, minutes, did = _twins(who, w, h, lived, mine, first)
        kg = float(w.kg[first])
        rows.append(
            {
                "person_id": who.name,
                "treatment": int(number),
                "first_dose_utc": c.start_utc + timedelta(minutes=first),
                "band": "overnight" if w.night[first] else "daytime",
                "weight_kg": kg,
                "reference_grams": REFERENCE_G_PER_KG * kg,
                "true_factor_mg_dl_per_g": shown / (REFERENCE_G_PER_KG * kg),
                "true_blood_factor_mg_dl_per_g": blood / (REFERENCE_G_PER_KG * kg),
                "minutes_to_peak": minutes,
                "grams": float(lived.doses[mine, 1].sum()),
                "true_rise_mg_dl": did,
            }
        )
    text = ("person_id", "band")
    numbers = ("weight_kg", "reference_grams", "true_factor_mg_dl_per_g", "true_blood_factor_mg_dl_per_g")
    kinds: dict[str, pl.DataType] = {name: pl.String() for name in text} | {name: pl.Float64() for name in numbers}
    kinds |= {"treatment": pl.Int64(), "first_dose_utc": UTC, "minutes_to_peak": pl.Float64(), "grams": pl.Float64()}
    kinds |= {"true_rise_mg_dl": pl.Float64()}
    order = [
        "person_id",
        "treatment",
        "first_dose_utc",
        "band",
        *numbers,
        "minutes_to_peak",
        "grams",
        "true_rise_mg_dl",
    ]
    frame = pl.DataFrame(rows, schema={name: kinds[name] for name in order})
    logged = doses.group_by("treatment").agg(logged_first_dose_utc=pl.col("logged_at_utc").min())
    return frame.join(logged, on="treatment", how="left", maintain_order="left")


def _twins(
    who: Resident, w: Plans, h: Manners, lived: Lived, mine: np.ndarray, first: int
) -> tuple[float, float, float, float]:
    """Peak of what the reference amount adds as a perfect sensor shows it, in blood, when, and what the doses added."""
    span = slice(first, first + TWIN_MIN)
    kg, state = float(w.kg[first]), lived.states[mine[0]]
    rest = lived.at_work[span].copy()
    for row in mine:
        at = int(lived.doses[row, 0]) - first
        if at < TWIN_MIN:
            rest[at] -= lived.doses[row, 5]
    gain = h.gain_night if w.night[first] else h.gain_day
    reference = rest.copy()
    reference[0] += REFERENCE_G_PER_KG * kg * gain * w.scatter[int(lived.doses[mine[0], 4])]
    others = lived.insulin[span], lived.food[span]
    bare, with_it, real = (
        shown_over(state, who.body, kg, *others, glucose, w.drive[span])
        for glucose in (rest, reference, lived.at_work[span])
    )
    rise = with_it[0] - bare[0]
    return (
        float(rise.max()),
        float((with_it[1] - bare[1]).max()),
        float(rise.argmax() + 1),
        float((real[0] - bare[0]).max()),
    )
