"""Open research data read through layouts written here: counts equal to those their own READMEs state.

The files stay where they are (environment variable GRAMRISE_OUTSIDE_DATA); their sources and licences are named in the
README of each folder. Column names are those of the open data sets; nothing of them is kept in the project.
"""

import os
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from gramrise.connectors.shelf import read_layout
from gramrise.domain.person import Dated, Person
from gramrise.intake import FileWaits, read_file, recognise

pytestmark = pytest.mark.outside
OUTSIDE = os.environ.get("GRAMRISE_OUTSIDE_DATA")
if not OUTSIDE or not (Path(OUTSIDE) / "datasets").is_dir():
    pytest.skip("OUTSIDE DATA MISSING: set GRAMRISE_OUTSIDE_DATA to its folder", allow_module_level=True)
SETS = Path(OUTSIDE) / "datasets"
NOW = datetime(2026, 6, 1, tzinfo=UTC)


def person(zone: str) -> Person:
    return Person("P1", date(1990, 1, 1), Dated(((date(2000, 1, 1), ZoneInfo(zone)),)))


def read(path: Path, zone: str, layout: str, now: datetime = NOW):
    """One file by one layout, as (batch,)."""
    made = read_layout(layout, "written in the test")
    return read_file(path, person(zone), now_utc=now, layouts=(made,), layout_name=made.name)[0]


DAY_FIRST = """
name = "day-first"
about = "Glucose in mmol/L, day first"
[clock]
columns = ["bg_ts"]
formats = ["dmy"]
[[brings]]
kind = "readings"
value = "value"
unit = "mmol/L"
"""


@pytest.mark.parametrize(("subject", "rows"), [("2305", 7190), ("2306", 11710), ("2320", 23946)])
def test_t1d_uom_glucose_counts_are_those_of_its_readme(subject, rows):
    batch = read(SETS / "t1d_uom" / f"UoMGlucose{subject}.csv", "Europe/London", DAY_FIRST)
    assert batch.readings.height == rows
    assert batch.readings.height + batch.rows_repeated + len(batch.quarantine) == batch.rows_offered
    share = {"2305": 3.73, "2306": 5.43, "2320": 1.82}[subject]
    below = batch.readings["glucose_mg_dl"] < 3.9 * 18.0156 - 1e-6  # the README counts below 3.9 mmol/L as below 70
    assert 100 * below.sum() / batch.readings.height == pytest.approx(share, abs=0.02)


def test_t1d_uom_repeated_times_with_two_values_are_set_aside_and_named():
    batch = read(SETS / "t1d_uom" / "UoMGlucose2320.csv", "Europe/London", DAY_FIRST)
    assert len(batch.quarantine) + batch.rows_repeated == 19  # 19 repeated times, 18 of them with two values
    assert [row.trouble.code for row in batch.quarantine].count("two_values") == 18


@pytest.mark.parametrize("subject", ["2305", "2306", "2320"])
def test_t1d_uom_glucose_needs_no_layout_beyond_what_its_column_means(subject):
    """Day first, mmol/L and the 5-minute trace are proved by the file; two of the three mix on-demand readings in."""
    seen = recognise(SETS / "t1d_uom" / f"UoMGlucose{subject}.csv", person("Europe/London"), now_utc=NOW)
    assert "dmy" in seen.text
    assert "mmol/L" in seen.text


MEALS = """
name = "meals"
about = "Food, day first"
[clock]
columns = ["meal_ts"]
formats = ["dmy"]
[[brings]]
kind = "food"
grams = "carbs_g"
note = "meal_tag"
"""


@pytest.mark.parametrize(("subject", "entries"), [("2305", 122), ("2306", 365), ("2320", 458)])
def test_t1d_uom_carbohydrate_entries_are_those_of_its_readme(subject, entries):
    now = datetime(2035, 1, 1, tzinfo=UTC)  # beyond the year somebody mistyped
    batch = read(SETS / "t1d_uom" / f"UoMNutrition{subject}.csv", "Europe/London", MEALS, now)
    assert batch.events.height + batch.rows_repeated == entries
    assert not batch.quarantine


def test_t1d_uom_a_mistyped_year_is_set_aside():
    batch = read(SETS / "t1d_uom" / "UoMNutrition2320.csv", "Europe/London", MEALS)
    assert [row.trouble.code for row in batch.quarantine] == ["time_out_of_range"]


ADOLESCENT = """
name = "adolescent"
about = "Rows of several kinds, several persons, written offsets"
[clock]
columns = ["local_datetime"]
formats = ["iso"]
[[brings]]
kind = "readings"
value = "glucose_mmol_l"
unit = "mmol/L"
floor = 2.2
when = {{ column = "source", words = ["{word}"] }}
"""


def of_subject(tmp_path: Path, subject: str) -> Path:
    """One person's rows: a file of several persons is cut before it is read."""
    head, *lines = (SETS / "adolescents_nl" / "glucose.csv").read_text("utf-8").splitlines()
    path = tmp_path / f"{subject}.csv"
    path.write_text("\n".join([head, *(line for line in lines if line.startswith(subject))]) + "\n", "utf-8")
    return path


@pytest.mark.parametrize(
    ("subject", "word", "rows", "distinct"),
    [("914", "interval", 5850, 5831), ("926", "interval", 8015, 8015), ("995", "interval", 7413, 7409),
     ("914", "on_demand", 364, None), ("926", "on_demand", 2032, None), ("995", "on_demand", 782, None)],
)  # fmt: skip
def test_adolescents_readings_are_those_of_their_readme(subject, word, rows, distinct, tmp_path):
    batch = read(of_subject(tmp_path, subject), "Europe/Amsterdam", ADOLESCENT.format(word=word))
    named = [one.trouble.code for one in batch.quarantine]
    assert batch.readings.height + batch.rows_repeated + len(named) == rows
    if distinct is not None:
        assert batch.readings.height + named.count("time_ambiguous") == distinct
    assert set(named) <= {"two_values", "time_ambiguous"}


def test_adolescents_the_four_hours_without_offset_are_placed_by_their_neighbours(tmp_path):
    """27 October 2019: four readings a person carry no offset: their authors could not tell which 02:xx it was."""
    batch = read(of_subject(tmp_path, "926"), "Europe/Amsterdam", ADOLESCENT.format(word="interval"))
    night = batch.readings.filter(
        (batch.readings["at_utc"] >= datetime(2019, 10, 26, 23, 45, tzinfo=UTC))
        & (batch.readings["at_utc"] <= datetime(2019, 10, 27, 2, 15, tzinfo=UTC))
    )
    assert night["at_utc"].is_unique().all()
    assert night["at_utc"].is_sorted()


def test_adolescents_a_file_of_several_persons_waits():
    with pytest.raises(FileWaits) as waits:
        read_file(SETS / "adolescents_nl" / "glucose.csv", person("Europe/Amsterdam"), now_utc=NOW)
    assert waits.value.code == "several_persons"


FIVE_MINUTES = """
name = "five-minutes"
about = "One row every five minutes holds glucose, bolus and food"
[clock]
columns = ["time"]
formats = ["iso"]
[[brings]]
kind = "readings"
value = "glucose"
unit = "mg/dL"
floor = 40.0
[[brings]]
kind = "insulin"
units = "bolus_volume_delivered"
[[brings]]
kind = "food"
grams = "carb_input"
amount_known = false
"""


@pytest.mark.parametrize(
    ("subject", "rows", "floor", "food"),
    [("0007P", 3857, 36, 82), ("0016P", 3835, 19, 83), ("0022P", 4023, 105, 68)],
)
def test_hupa_counts_are_those_of_its_readme(subject, rows, floor, food):
    batch = read(SETS / "hupa_ucm" / f"HUPA{subject}.csv", "Europe/Madrid", FIVE_MINUTES)
    readings = batch.readings
    assert readings.height + len(batch.quarantine) == rows
    assert (readings["range"] == "below").sum() == floor
    assert (batch.events["kind"] == "food").sum() == food
    assert batch.events.filter(batch.events["kind"] == "food")["amount"].null_count() == food


TWO_KINDS = """
name = "two-kinds"
about = "A sensor's readings and finger-sticks in one column"
[clock]
columns = ["date", "time"]
[[brings]]
kind = "readings"
value = "glucose"
unit = "mmol/L"
when = { column = "type", words = ["cgm"] }
[[brings]]
kind = "fingers"
value = "glucose"
unit = "mmol/L"
when = { column = "type", words = ["manual"] }
"""


@pytest.mark.parametrize(("subject", "sensor", "fingers"), [("001", 1413, 25), ("007", 988, 23)])
def test_d1namo_counts_are_those_of_its_readme(subject, sensor, fingers):
    batch = read(SETS / "d1namo" / subject / "glucose.csv", "Europe/Zurich", TWO_KINDS)
    named = [one.trouble.code for one in batch.quarantine]
    assert batch.readings.height + batch.fingers.height + batch.rows_repeated + len(named) == sensor + fingers
    assert batch.fingers.height == fingers


def test_d1namo_dates_parted_by_colons_are_read():
    text = """
name = "photos"
about = "Food told in words"
[clock]
columns = ["datetime"]
[[brings]]
kind = "note"
text = "description"
"""
    batch = read(SETS / "d1namo" / "001" / "food.csv", "Europe/Zurich", text)
    assert batch.events.height == 25
