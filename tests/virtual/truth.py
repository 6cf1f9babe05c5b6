"""Truth as frames: what twins found, by treatment and by band, and what the sensor did on its own."""

from datetime import timedelta

import polars as pl

from virtual.days import Days
from virtual.people import BAND_NAMES, PersonPlan
from virtual.sensor import Sensed
from virtual.twins import Peaks


def truth_frame(plan: PersonPlan, days: Days, peaks: Peaks, doses: pl.DataFrame) -> pl.DataFrame:
    logged = doses.group_by("treatment").agg(logged_first_dose_utc=pl.col("logged_at_utc").min())
    frame = pl.DataFrame(
        {
            "person_id": [plan.person_id] * peaks.size,
            "treatment": peaks.treatment,
            "first_dose_utc": [days.start_utc + timedelta(minutes=int(m)) for m in peaks.minute],
            "band": [BAND_NAMES[b] for b in peaks.band],
            "weight_kg": days.kg[peaks.minute],
            "reference_grams": peaks.reference_grams,
            "true_factor_mg_dl_per_g": peaks.tissue_per_g,
            "true_blood_factor_mg_dl_per_g": peaks.level_per_g,
            "minutes_to_peak": peaks.minutes_to_peak,
            "grams": peaks.grams,
            "true_rise_mg_dl": peaks.doses_rise,
        },
        schema_overrides={"person_id": pl.String(), "first_dose_utc": pl.Datetime("us", "UTC"), "band": pl.String()},
    )
    return frame.join(logged, on="treatment", how="left", maintain_order="left")


def by_band(truth: pl.DataFrame) -> pl.DataFrame:
    return (
        truth.group_by("person_id", "band")
        .agg(
            true_factor_mg_dl_per_g=pl.col("true_factor_mg_dl_per_g").median(),
            treatments_n=pl.len().cast(pl.Int32),
            logged_n=pl.col("logged_first_dose_utc").is_not_null().sum().cast(pl.Int32),
        )
        .sort("person_id", "band")
    )


def dips_frame(plan: PersonPlan, days: Days, sensed: Sensed) -> pl.DataFrame:
    rows = [(plan.person_id, days.start_utc + timedelta(minutes=at), m, depth) for at, m, depth in sensed.dips]
    schema = {
        "person_id": pl.String(),
        "at_utc": pl.Datetime("us", "UTC"),
        "minutes": pl.Int64(),
        "depth_mg_dl": pl.Float64(),
    }
    return pl.DataFrame(rows, schema=schema, orient="row")
