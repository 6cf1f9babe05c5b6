"""The same night on a cluster of dask's: what one process leaves, to the last digit."""

import pytest
from support.night_state import SUNDAY, copy_of, make_home, state_of

from gramrise.nightly import nightly_settings, run_night
from gramrise.store import Store

pytestmark = pytest.mark.slow

pytest.importorskip("distributed", reason="NOT RUN: pip install 'gramrise[cluster]'")


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_cluster_leaves_what_one_process_leaves(tmp_path):
    alone = make_home(tmp_path / "alone", days=3)
    beside = copy_of(alone, tmp_path / "beside")
    with Store.open(alone) as store:
        run_night(store, alone, SUNDAY)
    told = {"workers": "dask", "worker_processes": 2, "persons_per_task": 1}
    with Store.open(beside) as store:
        night = run_night(store, beside, SUNDAY, settings=nightly_settings(beside).model_copy(update=told))
    assert (night.persons, night.failed) == (2, 0)
    assert state_of(beside) == state_of(alone)
