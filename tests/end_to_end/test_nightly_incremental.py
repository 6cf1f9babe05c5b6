"""Night after night on what changed gives what one look at everything gives; what a night costs does not grow."""

from datetime import UTC, datetime, timedelta

import polars as pl
from polars.testing import assert_frame_equal

from gramrise.domain.batch import Batch
from gramrise.nightly import run_person
from gramrise.store import Store
from gramrise.virtual import CohortSpec, cohort

DAY = timedelta(days=1)
DAYS = 9
START = datetime(2025, 1, 6, tzinfo=UTC)


def told_between(inputs, start, end):
    """What a person logged in [start, end), as one file."""
    columns = {"readings": "at_utc", "fingers": "at_utc", "doses": "taken_at_utc", "events": "at_utc"}
    within = {
        name: getattr(inputs, name).filter(pl.col(at).is_between(start, end, closed="left"))
        for name, at in columns.items()
    }
    return Batch(inputs.person.person_id, f"{start:%Y-%m-%d}.csv", f"{start}-{end}", "plain", 0, **within)


def test_nights_on_what_changed_give_what_one_look_at_everything_gives(tmp_path):
    spec = CohortSpec(seed=3, persons=2, days=DAYS)
    people = cohort(spec).inputs
    with Store.open(tmp_path / "nightly") as nightly, Store.open(tmp_path / "whole") as whole:
        for inputs in people:
            for store in (nightly, whole):
                store.save_person(inputs.person)
        # Out of order on purpose: the fourth day arrives after the fifth.
        for day in (0, 1, 2, 4, 3, 5, 6, 7, 8, 9):
            start = datetime(spec.start.year, spec.start.month, spec.start.day, tzinfo=UTC) + day * DAY
            now = start + (2 if day == 3 else 1) * DAY
            for inputs in people:
                nightly.take_in(told_between(inputs, start - timedelta(hours=13), start + timedelta(hours=11)), now)
                run_person(nightly, inputs.person.person_id, now)
        treatments = 0
        for inputs in people:
            who = inputs.person.person_id
            whole.take_in(told_between(inputs, START - 9 * DAY, START + (DAYS + 9) * DAY), now)
            expected, found = run_person(whole, who, now), nightly.findings(who)
            assert_frame_equal(nightly.inputs(who).readings, whole.inputs(who).readings)
            for name in ("lows", "treatments", "pairings", "factors", "predictions"):
                assert_frame_equal(getattr(found, name), getattr(expected, name), abs_tol=1e-6, rel_tol=1e-6)
            treatments += expected.treatments.height
    assert treatments > 3
