"""Metrics for a scraper: the counts a monitor alarms on, and nothing that tells of a person."""

from datetime import UTC, datetime, timedelta

import pytest
from prometheus_client.parser import text_string_to_metric_families
from support.nightly_home import START, child, doses_csv, drop, readings_csv, settled

from gramrise.nightly import run_night
from gramrise.nightly.metrics import NUMBERS, metrics_text
from gramrise.store import Store

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


def numbers(home, now_utc=NOW):
    found = {}
    for family in text_string_to_metric_families(metrics_text(home, now_utc).decode()):
        for sample in family.samples:
            found[sample.name, *sample.labels.values()] = sample.value
    return found


@pytest.fixture
def home(tmp_path):
    home = tmp_path / "home"
    settled(home)
    with Store.open(home) as store:
        store.save_person(child())
        drop(home, "mia", "march.csv", readings_csv(START, 20, low_at=3))
        drop(home, "mia", "given.csv", doses_csv(START + timedelta(hours=3, minutes=15)))
        drop(home, "mia", "letter.csv", "Dear all")
        run_night(store, home, NOW)
    return home


def test_each_number_is_told_after_a_night(home):
    found = numbers(home, NOW + timedelta(hours=3))
    assert {name for name, *_ in found} == {*NUMBERS, "gramrise_findings"}
    assert found["gramrise_persons",] == 1
    assert found["gramrise_last_night_age_seconds",] == 3 * 3600
    assert found["gramrise_files_held",] == 1
    assert found["gramrise_exit_status",] == 1
    assert found["gramrise_findings", "inbox_held"] == 1


def test_no_name_no_id_and_no_value_stands_in_it(home):
    text = metrics_text(home, NOW).decode()
    values = " ".join(line.split()[-1] for line in text.splitlines() if not line.startswith("#"))
    assert [
        word for word in ("mia", "tin", "example.org", "letter.csv") if f'"{word}' in text or f" {word} " in text
    ] == []
    assert "62" not in values.split()


def test_a_home_that_cannot_run_still_tells_that_it_cannot(home):
    (home / "gramrise.db").write_bytes(b"not a database" * 500)
    found = numbers(home)
    assert found["gramrise_exit_status",] == 3
    assert ("gramrise_findings", "database_damaged") in found
    assert ("gramrise_persons",) not in found
