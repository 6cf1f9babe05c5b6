"""When a low may be called lying on the sensor: a sudden drop, the earlier level back, and detection nearly sure."""

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from support.report_people import NOW, WEEK_END, a_week

from gramrise.detect.settings import shipped
from gramrise.detect.trace import trace_of
from gramrise.domain.frames import READINGS
from gramrise.report.weekly.numbers.build import weekly_view
from gramrise.report.weekly.numbers.sensor_doubt import lain_upon
from gramrise.report.weekly.pages.plain_text import render_text
from gramrise.report.weekly.settings import DEFAULT

START = datetime(2026, 11, 18, 1, 0, tzinfo=UTC)
STEADY = [110.0] * 12
SUDDEN = [*STEADY, 56, 48, 45, 46, 44, 47, 50, *[108.0] * 12]
HALF_AN_HOUR = [*STEADY, 100, 88, 78, 66, 55, 47, 42, 40, 41, 45, *[108.0] * 12]
ALREADY_FALLING = [150, 145, 140, 133, 125, 117, 110, 103, 96, 89, 82, 75, 62, 50, 44, 45, 47, *[108.0] * 12]
SUDDEN_BUT_NOT_BACK = [*STEADY, 56, 48, 45, 46, 44, 47, 50, *[75.0] * 12]
SUDDEN_THEN_HIGH = [*STEADY, 56, 48, 45, 46, 44, 47, 50, *[190.0] * 12]


def _case(levels, **changed):
    """(row of LOWS, trace) of readings every 5 minutes; the low is what lies below 70."""
    at = [START + timedelta(minutes=5 * n) for n in range(len(levels))]
    readings = pl.DataFrame(
        [("mia", when, float(level), "in", None) for when, level in zip(at, levels, strict=True)],
        schema=READINGS.schema,
        orient="row",
    )
    low = [n for n, level in enumerate(levels) if level < 70]
    nadir = min(levels)
    row = {
        "start_utc": at[low[0]],
        "end_utc": at[low[-1] + 1],
        "nadir_mg_dl": nadir,
        "nadir_at_utc": at[levels.index(nadir)],
        "ended_by_gap": False,
        "outcome": "sensor_doubt",
        "probability_dip": 0.95,
    }
    return row | changed, trace_of(readings, shipped())


@pytest.mark.parametrize(
    ("levels", "so_called"),
    [
        (SUDDEN, True),
        (HALF_AN_HOUR, False),
        (ALREADY_FALLING, False),
        (SUDDEN_BUT_NOT_BACK, False),
        (SUDDEN_THEN_HIGH, False),
    ],
)
def test_only_a_sudden_drop_after_which_the_earlier_level_came_back_may_be_the_sensor(levels, so_called):
    assert lain_upon(*_case(levels), DEFAULT) is so_called


@pytest.mark.parametrize(
    "changed",
    [
        {"probability_dip": 0.89},
        {"probability_dip": None},
        {"outcome": "treated"},
        {"end_utc": None},
        {"ended_by_gap": True},
    ],
)
def test_without_near_certainty_or_a_seen_end_a_low_is_real(changed):
    assert lain_upon(*_case(SUDDEN), DEFAULT)
    assert not lain_upon(*_case(SUDDEN, **changed), DEFAULT)


def _told_of(probability, **more):
    """The text of a week whose third low detection doubts with this probability; its readings fall slowly."""
    inputs, found = a_week()
    third = pl.col("start_utc") == found.lows["start_utc"][3]
    doubted = found.lows.with_columns(
        outcome=pl.when(third).then(pl.lit("sensor_doubt")).otherwise("outcome"),
        probability_dip=pl.when(third).then(probability).otherwise("probability_dip"),
        evidence=pl.when(third).then(pl.lit(["nothing_in_log", "looks_like_dip"])).otherwise("evidence"),
    )
    view = weekly_view(
        inputs, type(found)(**{**{f: getattr(found, f) for f in found.__slots__}, "lows": doubted}),
        week_end=WEEK_END, now_utc=NOW,
    )  # fmt: skip
    return view, " ".join(render_text(view).split())


@pytest.mark.parametrize("probability", [0.3, 0.95])
def test_a_slow_low_that_detection_doubts_is_told_as_a_low_with_nothing_written_down(probability):
    view, told = _told_of(probability)
    assert not any(low.lain_upon for low in (*view.lows, *view.team))
    assert "lain upon:" not in told
    assert "lying on the sensor" not in told
    assert "may well have been wrong" not in told
    assert view.team[0].outcome == "sensor_doubt"
    assert "nothing written down" in told
