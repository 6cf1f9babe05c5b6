"""Each shipped layout: what its clean and its broken sample give is written beside them, and holds."""

import json
from datetime import date, datetime
from pathlib import Path

import pytest
from support.variants import NOW, PERSON

from gramrise.connectors import samples_folder
from gramrise.connectors.shelf import shipped_layouts
from gramrise.intake import read_file

NAMES = [layout.name for layout in shipped_layouts()]
SAMPLES = samples_folder()


def _values(row: dict[str, object]) -> list[object]:
    """A row as plain values, times to the minute, without what is the same for all or left open."""
    return [
        f"{value:%Y-%m-%dT%H:%MZ}" if isinstance(value, datetime) else str(value) if isinstance(value, date) else value
        for name, value in row.items()
        if name not in {"person_id", "origin"} and (name, value) not in [("until_utc", None), ("noticed", "")]
    ]


def told(path: Path) -> dict[str, object]:
    """What a file gave, as plain values: rows of each kind, rows set aside, questions asked."""
    (batch,) = read_file(path, PERSON, now_utc=NOW)
    frames = {
        "readings": batch.readings,
        "fingers": batch.fingers,
        "doses": batch.doses,
        "events": batch.events,
        "weights": batch.weights,
    }
    rows = {
        kind: [_values(row) for row in frame.iter_rows(named=True)] for kind, frame in frames.items() if frame.height
    }
    return {
        "layout": batch.layout,
        "offered": batch.rows_offered,
        "repeated": batch.rows_repeated,
        "passed_over": batch.rows_passed_over,
        **rows,
        "set_aside": [[one.trouble.row, one.trouble.column, one.trouble.code, one.text] for one in batch.quarantine],
        "asked": [[question.kind, question.sentence] for question in batch.questions],
    }


@pytest.mark.parametrize("kind", ["clean", "broken"])
@pytest.mark.parametrize("name", NAMES)
def test_a_sample_gives_what_is_written_beside_it(name, kind):
    (path,) = (SAMPLES / name).glob(f"{kind}.*")
    expected = json.loads((SAMPLES / name / f"expected_{kind}.json").read_text("utf-8"))
    assert json.loads(json.dumps(told(path))) == expected


@pytest.mark.parametrize("name", NAMES)
def test_a_clean_sample_sets_nothing_aside_and_asks_nothing(name):
    expected = json.loads((SAMPLES / name / "expected_clean.json").read_text("utf-8"))
    assert (expected["set_aside"], expected["asked"]) == ([], [])
    assert expected["layout"] == name


@pytest.mark.parametrize("name", NAMES)
def test_a_broken_sample_lands_its_good_rows_and_names_the_bad_ones(name):
    expected = json.loads((SAMPLES / name / "expected_broken.json").read_text("utf-8"))
    assert expected["set_aside"]
    assert any(expected.get(kind) for kind in ("readings", "fingers", "doses", "events", "weights"))
