"""What page 1 tells the team first, and in which order."""

from dataclasses import replace

import polars as pl
import pytest
from support.report_people import NOW, WEEK_END, a_week, person

from gramrise.report.weekly.chapters.document import Bullets, Heading
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.numbers.build import weekly_view
from gramrise.report.weekly.numbers.team import dangers_of, worth_telling
from gramrise.report.weekly.pages.plain_text import render_text


def _view(change, **who):
    """The week of five lows after `change`, a function from LOWS to LOWS."""
    inputs, found = a_week(person(**who))
    return weekly_view(inputs, replace(found, lows=change(found.lows)), week_end=WEEK_END, now_utc=NOW)


def _worst_night(lows):
    """The last low becomes the one that was once a row on page 3: 345 minutes, lowest 42, nothing logged."""
    last = pl.col("start_utc") == lows["start_utc"][-1]
    changes = {
        "end_utc": pl.col("start_utc") + pl.duration(minutes=345),
        "nadir_mg_dl": pl.lit(42.0),
        "level": pl.lit(2, dtype=pl.Int32),
        "prolonged": pl.lit(True),
        "outcome": pl.lit("nothing_logged"),
        "grams": pl.lit(0.0),
        "first_dose_utc": pl.lit(None, dtype=lows.schema["first_dose_utc"]),
        "minutes_to_glucose": pl.lit(None, dtype=pl.Float64),
        "evidence": pl.lit(["nothing_in_log"]),
    }
    return lows.with_columns(
        **{
            name: pl.when(last).then(value).otherwise(pl.col(name)).cast(lows.schema[name])
            for name, value in changes.items()
        }
    )


def test_a_night_of_345_minutes_with_nothing_logged_leads_the_first_page():
    view = _view(_worst_night)
    blocks = document_of(view).blocks
    assert blocks[0] == Heading("What to tell the team")
    assert isinstance(blocks[1], Bullets)
    assert blocks[1].items[0].replace("\u00a0", " ") == (
        "By night, Sat 21 Nov 00:50: low for 345 minutes, lowest 42 mg/dL (level 2); nothing written down."
    )


def test_the_same_night_leads_the_first_page_in_german():
    lines = document_of(_view(_worst_night, language="de")).blocks[1].items
    assert lines[0].startswith("In der Nacht, Sa.\u00a021.\u00a0Nov. 00:50: 345 Minuten unterzuckert, tiefster Wert 42")
    assert lines[0].endswith("nichts aufgeschrieben.")


@pytest.mark.parametrize(
    ("changed", "dangers"),
    [
        ({}, ()),
        ({"level": 2}, ("level_2",)),
        ({"prolonged": True}, ("prolonged",)),
        ({"outcome": "nothing_logged"}, ("nothing_logged",)),
        ({"outcome": "sensor_doubt", "evidence": ("nothing_in_log", "looks_like_dip")}, ("nothing_logged",)),
        ({"outcome": "open", "evidence": ("nothing_in_log", "still_going")}, ("nothing_logged",)),
        ({"noticed_by": "nobody"}, ("unnoticed",)),
        ({"noticed_by": "child"}, ()),
        ({"level": 2, "evidence": ("finger_disagreed",)}, ()),
    ],
)
def test_deep_long_unlogged_and_unnoticed_lows_are_for_the_team(changed, dangers):
    low = _view(lambda lows: lows).lows[0].model_copy(update=changed)
    assert dangers_of(low) == dangers


def test_by_night_comes_before_by_day_and_the_sensors_doubt_comes_last():
    low = _view(lambda lows: lows).lows[0].model_copy(update={"level": 2})
    by_day = low.model_copy(update={"by_night": False, "nadir_mg_dl": 41.0})
    doubted = low.model_copy(update={"lain_upon": True, "nadir_mg_dl": 40.0})
    assert worth_telling((doubted, by_day, low)) == (low, by_day, doubted)


def test_a_low_that_may_be_the_sensor_is_told_with_the_words_that_it_is_real_until_shown_otherwise():
    view = _view(_worst_night)
    doubted = view.model_copy(update={"team": (view.team[0].model_copy(update={"lain_upon": True}),)})
    assert "Treat as real unless a finger-stick disagreed." in " ".join(render_text(doubted).split())


def test_where_no_low_calls_for_the_team_it_is_said():
    view = _view(lambda lows: lows.filter(pl.col("outcome") == "treated"))
    told = " ".join(render_text(view).split())
    assert view.team == ()
    assert "No low was below 54 for 15 minutes, longer than 2 hours, or without an entry. 4 lows this week." in told


def test_more_lows_than_have_a_line_are_counted():
    view = _view(lambda lows: lows.with_columns(level=pl.lit(2, dtype=pl.Int32)))
    lines = document_of(view).blocks[1].items
    assert len(view.team) == 5
    assert len(lines) == 4
    assert lines[-1] == "And 2 more that were deep, long or not written down."


def test_a_deep_low_by_day_comes_before_a_shallow_one_by_night():
    night = (
        _view(lambda lows: lows)
        .lows[0]
        .model_copy(
            update={"level": 1, "by_night": True, "nadir_mg_dl": 66.0, "outcome": "nothing_logged", "prolonged": False}
        )
    )
    day = night.model_copy(update={"level": 2, "by_night": False, "nadir_mg_dl": 47.0})
    assert worth_telling((night, day)) == (day, night)
