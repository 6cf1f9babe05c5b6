"""The invented families of sample_exports: small, whole, and the same bytes whenever they are made again."""

import itertools
import json
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from virtual.samples import main, sample_texts

SHIPPED = Path(__file__).parents[2] / "sample_exports"
MOST_BYTES = 2_000_000


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    return sample_texts()


@pytest.mark.slow
def test_the_shipped_samples_come_out_again_byte_for_byte(tmp_path: Path) -> None:
    assert main([str(tmp_path)]) == 0
    made = {path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file()}
    shipped = {path.relative_to(SHIPPED) for path in SHIPPED.rglob("*") if path.is_file()}
    assert shipped - made <= {Path("README.md")}
    differing = [name for name in made if (SHIPPED / name).read_bytes() != (tmp_path / name).read_bytes()]
    assert differing == []


def test_the_samples_stay_small() -> None:
    assert sum(path.stat().st_size for path in SHIPPED.rglob("*") if path.is_file()) < MOST_BYTES


def test_the_german_sheet_runs_through_the_repeated_hour_of_october(made: dict[str, str]) -> None:
    lines = made["family_b/blatt3.csv"].splitlines()
    assert lines[0] == "Familie Beispiel, Blatt 3"
    assert lines[2] == "Tag;Uhr;Zucker (mmol/L);Bemerkung"
    repeated = [line.split(";")[1] for line in lines if line.startswith("26.10.2025;02:")]
    steps_back = [(a, b) for a, b in itertools.pairwise(repeated) if b < a]
    assert len(steps_back) == 1, "the hour from 02:00 to 03:00 is written twice, once after the other"


def test_all_families_respond_clearly_differently_by_day_and_by_night(made: dict[str, str]) -> None:
    persons = json.loads(made["truth.json"])["persons"]
    assert len(persons) == 3
    for bands in persons.values():
        day, night = (bands[name]["true_factor_mg_dl_per_g"] for name in ("daytime", "overnight"))
        assert max(day / night, night / day) > 1.4


def test_the_series_of_records_runs_through_the_repeated_hour_of_november(made: dict[str, str]) -> None:
    body = json.loads(made["family_c/sensor_november.json"])["body"]
    written = [point["effective_time_frame"]["date_time"] for point in body]
    repeated = [text for text in written if text.startswith("2025-11-02T01:")]
    assert {text[-6:] for text in repeated} == {"-04:00", "-05:00"}
    assert [datetime.fromisoformat(text) for text in written] == sorted(map(datetime.fromisoformat, written))


def test_every_hour_of_the_english_table_is_placed_by_its_offset(made: dict[str, str]) -> None:
    zone = ZoneInfo("America/Chicago")
    stamps = [datetime.fromisoformat(line.split(",")[0]) for line in made["family_a/readings.csv"].splitlines()[1:]]
    assert stamps == sorted(stamps)
    assert all(stamp.utcoffset() == stamp.astimezone(zone).utcoffset() for stamp in stamps)
