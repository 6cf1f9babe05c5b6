"""Days on end in one process: nothing fails, nothing is doubled, memory stays flat."""

import pytest
from support.soak import soak

from gramrise.store import Store

pytestmark = pytest.mark.slow

# Our choice: a leak of one night's frames, or of one report's pictures, would show as more.
MOST_GROWTH_MB = 40
# The first weekly report, on the seventh night, loads the libraries that draw and set it.
ALL_LOADED = 7


def test_eleven_days_in_one_process_keep_memory_flat(tmp_path):
    memory = soak(tmp_path / "home", persons=1, days=11)
    assert memory[-1] - memory[ALL_LOADED] < MOST_GROWTH_MB
    with Store.open(tmp_path / "home") as store:
        for person in store.persons():
            readings = store.inputs(person.person_id).readings
            assert readings["at_utc"].n_unique() == readings.height > 0
