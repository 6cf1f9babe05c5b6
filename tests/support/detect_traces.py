"""Real traces of the outside data as Inputs. Read in place, never copied; their tests skip loudly without them."""

import os
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, READINGS
from gramrise.domain.person import Dated, Person
from gramrise.domain.units import MG_DL_PER_MMOL_L

FOLDER = Path(os.environ.get("GRAMRISE_OUTSIDE_DATA", "absent")) / "datasets"
needs_traces = pytest.mark.skipif(
    not FOLDER.is_dir(), reason="NOT RUN: set GRAMRISE_OUTSIDE_DATA to the folder that holds datasets/"
)

# First figure of the READMEs' tables: events when a reading is held until the next one.
EVENTS_OF = {
    "2305": 58,
    "2306": 154,
    "2320": 53,
    "914": 51,
    "926": 63,
    "995": 74,
    "HUPA0007P": 16,
    "HUPA0016P": 31,
    "HUPA0022P": 22,
    "001": 4,
    "007": 0,
}
SUGAR = "jelly|dextrose|glucose"  # tags of sugar sweets, dextrose and glucose drink
DIARISTS = ("2305", "2306", "2320")
ADOLESCENTS = ("914", "926", "995")


def person_of(name: str, zone: str = "Europe/London", weight_kg: float = 70.0) -> Person:
    """An adult; these sets publish no weight, so one is made up where it matters not."""
    return Person(
        person_id=name,
        born=date(1980, 1, 1),
        zone=Dated(((date.min, ZoneInfo(zone)),)),
        weights_kg=Dated(((date.min, weight_kg),)),
    )


def trace_inputs(name: str) -> Inputs:
    """One subject, with whatever its set logs."""
    if name in DIARISTS:
        return _diarist(name)
    if name in ADOLESCENTS:
        return _adolescent(name)
    return _hupa(name) if name.startswith("HUPA") else _d1namo(name)


def _instants(text: pl.Series, form: str, zone: str) -> pl.Series:
    local = text.str.to_datetime(form, time_unit="us", strict=False)
    return local.dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null").dt.convert_time_zone("UTC")


def _readings(name: str, at: pl.Series, mg_dl: pl.Series, floor: float | None = None) -> pl.DataFrame:
    below = mg_dl <= floor if floor is not None else pl.Series([False] * len(mg_dl), dtype=pl.Boolean)
    frame = pl.DataFrame({"at_utc": at, "glucose_mg_dl": mg_dl, "below": below}).drop_nulls("at_utc")
    frame = frame.unique("at_utc", keep="first", maintain_order=True)
    return READINGS.check(
        frame.with_columns(
            pl.lit(name).alias("person_id"),
            pl.when("below").then(pl.lit("below")).otherwise(pl.lit("in")).alias("range"),
            pl.lit(None, dtype=pl.Int32).alias("offset_minutes"),
        )
    )


def _events(name: str, at: pl.Series, kind: str, amount: pl.Series, text: pl.Series | None = None) -> pl.DataFrame:
    words = text if text is not None else pl.Series([""] * len(at), dtype=pl.String)
    frame = pl.DataFrame({"at_utc": at, "amount": amount, "text": words.fill_null("")}).drop_nulls("at_utc")
    return frame.with_columns(
        pl.lit(name).alias("person_id"),
        pl.lit(None, dtype=pl.Datetime("us", "UTC")).alias("until_utc"),
        pl.lit(kind).alias("kind"),
    )


def _diarist(name: str) -> Inputs:
    """Sugar entries (tag of sugar sweets, dextrose or glucose drink) are doses; the rest of the diary is food."""
    folder, form, zone = FOLDER / "t1d_uom", "%d/%m/%Y %H:%M", "Europe/London"
    glucose = pl.read_csv(folder / f"UoMGlucose{name}.csv")
    diary = pl.read_csv(folder / f"UoMNutrition{name}.csv", encoding="utf8-lossy")
    bolus = pl.read_csv(folder / f"UoMBolus{name}.csv")
    # The clock went back in the night of 29 October: later entries of the repeated hour are not told apart.
    diary = diary.with_columns(at=_instants(diary["meal_ts"], form, zone))
    tag = pl.col("meal_tag").fill_null("").str.to_lowercase()
    sugar = diary.filter(tag.str.contains(SUGAR))
    food = diary.filter(~tag.str.contains(SUGAR))
    return Inputs(
        person_of(name),
        readings=_readings(name, _instants(glucose["bg_ts"], form, zone), glucose["value"] * MG_DL_PER_MMOL_L),
        doses=_sugar_doses(name, sugar),
        events=EVENTS.check(
            pl.concat(
                [
                    _events(name, food["at"], "food", food["carbs_g"].cast(pl.Float64), food["meal_tag"]),
                    _events(
                        name, _instants(bolus["bolus_ts"], form, zone), "insulin", bolus["bolus_dose"].cast(pl.Float64)
                    ),
                ],
                how="diagonal",
            )
        ),
    )


def _sugar_doses(name: str, sugar: pl.DataFrame) -> pl.DataFrame:
    mixed = pl.col("meal_tag").str.contains(r"\+")
    grams = pl.col("carbs_g").cast(pl.Float64)
    return DOSES.check(
        sugar.drop_nulls("at").select(
            pl.lit(name).alias("person_id"),
            pl.col("at").alias("taken_at_utc"),
            pl.lit("").alias("source"),
            pl.int_range(1, pl.len() + 1).over("at").cast(pl.Int32).alias("ordinal"),
            pl.lit("unknown").alias("form"),
            grams.alias("amount"),
            pl.lit("g").alias("amount_unit"),
            pl.when(grams > 0).then(grams).alias("grams"),
            pl.lit(True).alias("may_be_weaker"),
            pl.when(mixed)
            .then(pl.lit(["mixed_with_food"]))
            .otherwise(pl.lit([], dtype=pl.List(pl.String)))
            .alias("remarks"),
            pl.lit("file").alias("origin"),
            pl.lit("").alias("noticed"),
        )
    )


def _adolescent(name: str) -> Inputs:
    """The automatic 15-minute trace; on-demand readings left out, finger-sticks kept apart."""
    rows = pl.read_csv(FOLDER / "adolescents_nl" / "glucose.csv", infer_schema_length=0).filter(
        pl.col("subject") == name
    )
    # The four readings between 02:00 and 03:00 of the night the clock went back carry no offset: taken as summer time.
    local = pl.col("local_datetime").str.slice(0, 19).str.to_datetime("%Y-%m-%dT%H:%M:%S", time_unit="us")
    hours = pl.col("utc_offset_h").cast(pl.Float64).fill_null(2)
    at = (local - pl.duration(hours=hours)).dt.replace_time_zone("UTC")
    rows = rows.with_columns(at=at, mg_dl=pl.col("glucose_mmol_l").cast(pl.Float64) * MG_DL_PER_MMOL_L)
    own = rows.filter(pl.col("source") == "interval")
    sticks = rows.filter((pl.col("source") == "fingerstick") & pl.col("mg_dl").is_not_null())
    fingers = sticks.unique("at", keep="first", maintain_order=True).select(
        pl.lit(name).alias("person_id"),
        pl.col("at").alias("at_utc"),
        pl.col("mg_dl").alias("glucose_mg_dl"),
        pl.lit("in").alias("range"),
    )
    return Inputs(
        person_of(name, "Europe/Amsterdam"),
        readings=_readings(name, own["at"], own["mg_dl"], floor=2.2 * MG_DL_PER_MMOL_L + 0.01),
        fingers=FINGERS.check(fingers),
    )


def _hupa(name: str) -> Inputs:
    rows = pl.read_csv(FOLDER / "hupa_ucm" / f"{name}.csv", separator=";", infer_schema_length=0)
    at = _instants(rows["time"], "%Y-%m-%dT%H:%M:%S", "Europe/Madrid")
    bolus = rows["bolus_volume_delivered"].cast(pl.Float64)
    food = rows["carb_input"].cast(pl.Float64)
    nothing = pl.Series([None] * len(rows), dtype=pl.Float64)
    return Inputs(
        person_of(name, "Europe/Madrid"),
        readings=_readings(name, at, rows["glucose"].cast(pl.Float64), floor=40.0),
        events=EVENTS.check(
            pl.concat(
                [
                    # The unit of carb_input differs between subjects, so the amount is taken as unknown.
                    _events(name, at.filter(food > 0), "food", nothing.filter(food > 0)),
                    _events(name, at.filter(bolus > 0), "insulin", bolus.filter(bolus > 0)),
                ],
                how="diagonal",
            )
        ),
    )


def _d1namo(name: str) -> Inputs:
    zone, form = "Europe/Zurich", "%Y-%m-%d %H:%M:%S"
    rows = pl.read_csv(FOLDER / "d1namo" / name / "glucose.csv")
    rows = rows.with_columns(
        at=_instants(rows["date"] + " " + rows["time"], form, zone),
        mg_dl=pl.col("glucose").cast(pl.Float64) * MG_DL_PER_MMOL_L,
    )
    sensor, sticks = rows.filter(pl.col("type") == "cgm"), rows.filter(pl.col("type") == "manual")
    food = pl.read_csv(FOLDER / "d1namo" / name / "food.csv")
    eaten = _instants(food["datetime"], "%Y:%m:%d %H:%M:%S", zone)
    fingers = sticks.unique("at", keep="first", maintain_order=True).select(
        pl.lit(name).alias("person_id"),
        pl.col("at").alias("at_utc"),
        pl.col("mg_dl").alias("glucose_mg_dl"),
        pl.lit("in").alias("range"),
    )
    unknown = pl.Series([None] * len(eaten), dtype=pl.Float64)
    return Inputs(
        person_of(name, zone),
        readings=_readings(name, sensor["at"], sensor["mg_dl"], floor=2.2 * MG_DL_PER_MMOL_L + 0.01),
        fingers=FINGERS.check(fingers),
        events=EVENTS.check(_events(name, eaten, "food", unknown, food["description"])),
    )
