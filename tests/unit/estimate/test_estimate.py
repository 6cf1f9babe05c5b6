"""The whole of the room: from readings and judged treatments to the answer."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest
from support.level_people import AS_OF, NIGHT, NOON, person, screened, screened_row

from gramrise.domain.bands import TimeBand
from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, FACTORS, LOWS, PAIRINGS, PATHS, PREDICTIONS, READINGS, SCREENED
from gramrise.domain.person import Dated
from gramrise.estimate import Estimated, estimate, estimate_settings
from gramrise.estimate.estimation import pairings_frame
from gramrise.estimate.treatment.model_averaging import AveragedMeasurements

approx = pytest.approx
SETTINGS = estimate_settings()


def traced(treatments, factor):
    """Readings every five minutes falling slowly to 65, and rising by grams x factor after each of the treatments."""
    rise = np.interp(np.arange(0, 125, 5), [0, 5, 20, 45, 120], [0.0, 0.05, 0.6, 1.0, 0.7])
    rows = []
    for first, grams in treatments:
        for i, minute in enumerate(range(-90, 125, 5)):
            fall = 80.0 - (minute + 90) / 6.0 if minute <= 0 else 65.0 - 3.0 * (1 - np.exp(-minute / 20.0))
            up = grams * factor * rise[i - 18] if minute > 0 else 0.0
            wobble = 1.5 * np.sin(2.1 * i)
            rows.append(("mia", first + timedelta(minutes=minute), fall + up + wobble, "in", None))
    return pl.DataFrame(rows, schema=READINGS.schema, orient="row").unique("at_utc", maintain_order=True)


def dosed(treatments):
    rows = [("mia", at, "tin", 1, "tablet", g, "g", g, False, [], "file", "") for at, g in treatments]
    return pl.DataFrame(rows, schema=DOSES.schema, orient="row")


def family(day_factor=None, night_factor=None, n=14, child=None, kg=32.0, grams=8.0):
    """A child with n treatments by day and n by night, every second day, and what was judged of them."""
    child = child or person(kg=kg)
    days = [(NOON + timedelta(days=2 * i), grams) for i in range(n if day_factor else 0)]
    nights = [(NIGHT + timedelta(days=2 * i), grams) for i in range(n if night_factor else 0)]
    readings = pl.concat([traced(days, day_factor), traced(nights, night_factor)]).sort("at_utc")
    rows = [screened_row(first=at, grams=g) for at, g in days]
    rows += [screened_row(first=at, grams=g, band="overnight") for at, g in nights]
    return Inputs(child, readings=readings, doses=dosed(days + nights).sort("taken_at_utc")), screened(*rows)


def found(inputs, judged, at=AS_OF, **more) -> Estimated:
    return estimate(inputs, judged, LOWS.empty(), at, SETTINGS, **more)


def of_band(result, band):
    return result.factors.row(by_predicate=pl.col("band") == band, named=True)


def test_with_no_pairings_the_factor_is_the_starting_table():
    result = found(Inputs(person(kg=32.0, weighed=AS_OF.date())), SCREENED.empty())
    for band in ("daytime", "overnight"):
        row = of_band(result, band)
        assert row["factor_mg_dl_per_g"] == approx(317.5 / 32.0)
        assert row["starting_mg_dl_per_g"] == approx(317.5 / 32.0)
        assert row["p05_factor_mg_dl_per_g"] < 317.5 / 32.0 / 2 < 317.5 / 32.0 * 2 < row["p95_factor_mg_dl_per_g"]
        assert (row["pairings_used"], row["state"]) == (0, "thin")


def test_another_starting_table_is_another_first_guess():
    child = person(kg=35.0, weighed=AS_OF.date(), starting_table="trials")
    assert of_band(found(Inputs(child), SCREENED.empty()), "daytime")["factor_mg_dl_per_g"] == approx(7.0)


def test_without_a_weight_no_number_is_given():
    row = of_band(found(Inputs(person(kg=None)), SCREENED.empty()), "daytime")
    assert (row["factor_mg_dl_per_g"], row["state"]) == (None, "withheld")


def test_every_frame_keeps_its_contract():
    result = found(*family(9.0, 5.0))
    for contract, frame in (
        (PAIRINGS, result.pairings),
        (PATHS, result.paths),
        (FACTORS, result.factors),
        (PREDICTIONS, result.predictions),
    ):
        assert contract.check(frame).equals(frame)


def test_day_and_night_are_told_apart():
    result = found(*family(9.0, 4.5))
    day, night = (of_band(result, band) for band in ("daytime", "overnight"))
    assert (day["pairings_used"], night["pairings_used"]) == (14, 14)
    assert day["factor_mg_dl_per_g"] > 1.4 * night["factor_mg_dl_per_g"]
    for row in (day, night):
        assert row["p05_factor_mg_dl_per_g"] < row["factor_mg_dl_per_g"] < row["p95_factor_mg_dl_per_g"]
        assert SETTINGS.doubt.lasting_sd_log_insulin_not_logged < row["sd_log_lasting"] < row["sd_log"]


def test_the_weight_adjusted_factor_is_the_factor_times_the_weight():
    row = of_band(found(*family(9.0, 4.5)), "daytime")
    assert row["weight_adjusted_mg_dl_kg_per_g"] == approx(row["factor_mg_dl_per_g"] * row["weight_kg"])


def test_set_aside_treatments_are_listed_and_not_learned_from():
    inputs, judged = family(9.0, 4.5)
    aside = judged.with_columns(verdict=pl.lit("set_aside"), reasons=pl.lit(["vomited"]))
    result = found(inputs, SCREENED.check(aside))
    assert result.pairings.height == judged.height
    assert of_band(result, "daytime")["factor_mg_dl_per_g"] == approx(
        of_band(result, "daytime")["starting_mg_dl_per_g"]
    )
    assert result.predictions.height == 0


def test_treatments_after_the_instant_asked_for_are_not_known():
    inputs, judged = family(9.0, 4.5)
    early = found(inputs, judged, at=NOON + timedelta(days=7))
    assert early.pairings["first_dose_utc"].max() <= NOON + timedelta(days=7)
    assert of_band(early, "daytime")["pairings_used"] == 4


def test_predictions_are_made_at_30_and_45_minutes_in_event_order():
    result = found(*family(9.0, 4.5))
    assert set(result.predictions["minutes_after"]) == {30, 45}
    assert result.predictions["inside"].drop_nulls().len() == result.predictions.height
    first = result.predictions.filter(pl.col("first_dose_utc") == NOON)
    last = result.predictions.filter(pl.col("first_dose_utc") == NOON + timedelta(days=26))
    width = [(f["p95_mg_dl"] - f["p05_mg_dl"]).mean() for f in (first, last)]
    assert width[1] < width[0]


def test_a_prediction_hardly_changes_with_what_came_after():
    # Earlier treatments are measured with today's path, so a little may move; the treatment itself is unseen.
    inputs, judged = family(9.0, 4.5)
    until = NOON + timedelta(days=15)
    early = found(inputs, judged, at=until).predictions
    late = found(inputs, judged).predictions.filter(pl.col("first_dose_utc") <= until)
    assert early["predicted_mg_dl"].to_list() == approx(late["predicted_mg_dl"].to_list(), rel=0.02)


def test_a_treatment_that_went_otherwise_is_predicted_all_but_the_same():
    # 40 mg/dL more are seen; what moves the prediction is only that earlier treatments are measured with today's path.
    inputs, judged = family(9.0, 4.5)
    last = judged["first_dose_utc"].max()
    doubled = pl.when(pl.col("at_utc") > last + timedelta(minutes=5)).then(pl.col("glucose_mg_dl") + 40.0)
    other = Inputs(
        inputs.person,
        readings=inputs.readings.with_columns(glucose_mg_dl=doubled.otherwise("glucose_mg_dl")),
        doses=inputs.doses,
    )
    one, two = (found(which, judged).predictions.filter(pl.col("first_dose_utc") == last) for which in (inputs, other))
    assert two["seen_mg_dl"].to_list() == approx((one["seen_mg_dl"] + 40.0).to_list())
    assert two["predicted_mg_dl"].to_list() == approx(one["predicted_mg_dl"].to_list(), abs=3.0)


def test_reasons_that_widen_leave_more_doubt():
    inputs, judged = family(9.0, 4.5)
    doubtful = judged.with_columns(reasons=pl.lit(["illness_near", "activity_near"]))
    plain, wide = found(inputs, judged), found(inputs, SCREENED.check(doubtful))
    assert of_band(wide, "daytime")["sd_log"] > of_band(plain, "daytime")["sd_log"]
    assert (wide.pairings["factor_sd_mg_dl_per_g"] / plain.pairings["factor_sd_mg_dl_per_g"]).to_numpy() == approx(2.0)


def test_three_bands_of_ones_own_are_three_answers():
    bands = (
        TimeBand("morning", time(6), time(12)),
        TimeBand("day", time(12), time(21)),
        TimeBand("night", time(21), time(6)),
    )
    inputs, judged = family(9.0, 4.5, child=person(bands=Dated(((datetime(2020, 1, 1, tzinfo=UTC).date(), bands),))))
    result = found(inputs, judged)
    assert result.factors["band"].to_list() == sorted(band.name for band in bands)
    assert [of_band(result, name)["pairings_used"] for name in ("day", "morning", "night")] == [14, 0, 14]


@pytest.mark.parametrize(("sd_of_table", "verdict"), [(0.9, "used"), (1.1, "set_aside")])
def test_a_treatment_that_tells_less_than_the_weight_table_names_no_number(sd_of_table, verdict):
    table_mg_dl_per_g = 317.5 / 32.0  # the table families use, at 32 kg; common practice, no source
    row = screened(screened_row(first=NOON, grams=8.0)).with_columns(weight_kg=pl.lit(32.0))
    measured = row.select("person_id", "first_dose_utc", "verdict").with_columns(
        factor_hat_mg_dl_per_g=pl.lit(-115.5),
        factor_var=pl.lit((sd_of_table * table_mg_dl_per_g) ** 2),
        start_estimated_mg_dl=pl.lit(62.0),
        rise_estimated_mg_dl=pl.lit(55.0),
    )
    (pairing,) = pairings_frame(row, AveragedMeasurements(measured), SETTINGS).iter_rows(named=True)
    assert (pairing["verdict"], "says_little" in pairing["reasons"]) == (verdict, verdict == "set_aside")


def test_a_treatment_without_a_weight_or_without_readings_is_set_aside_with_that_reason():
    inputs, judged = family(9.0, 4.5, child=person(kg=None))
    assert set(found(inputs, judged).pairings["reasons"].explode()) == {"weight_unknown"}
    inputs, judged = family(9.0, 4.5)
    blind = Inputs(inputs.person, doses=inputs.doses)
    pairings = found(blind, judged).pairings
    assert set(pairings["verdict"]) == {"set_aside"}
    assert set(pairings["reasons"].explode()) == {"gap_in_readings"}


def test_readings_after_the_instant_asked_for_change_nothing():
    inputs, judged = family(9.0, 4.5)
    until = NOON + timedelta(days=7, minutes=40)
    cut = Inputs(inputs.person, readings=inputs.readings.filter(pl.col("at_utc") <= until), doses=inputs.doses)
    assert found(inputs, judged, at=until).factors.equals(found(cut, judged, at=until).factors)


def test_after_a_move_to_another_zone_old_treatments_keep_the_band_they_were_in():
    inputs, judged = family(9.0, 4.5)
    zones = inputs.person.zone.with_entry(AS_OF.date(), ZoneInfo("Asia/Tokyo"))
    moved = replace(inputs, person=replace(inputs.person, zone=zones))
    result = found(moved, judged)
    assert [of_band(result, band)["pairings_used"] for band in ("daytime", "overnight")] == [14, 14]
