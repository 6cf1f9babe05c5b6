"""On a disk of any fullness a command says that the disk is full, loses nothing, and is completed with room."""

import warnings

import pytest

from faults import fullness

pytestmark = pytest.mark.slow

DISKS = {"import": 3, "nightly": 1, "backup": 2, "restore": 2, "forget": 2}


@pytest.mark.parametrize("work", fullness.WORKS)
def test_a_full_disk_is_called_full_and_costs_nothing(tmp_path, work):
    why_not = fullness.can_mount(tmp_path)
    if why_not:
        warnings.warn(f"NOT RUN: disks of every fullness ({why_not})", stacklevel=1)
        pytest.skip(f"NOT RUN: {why_not}")
    tried = fullness.attack(tmp_path, work, DISKS[work])
    assert tried.bad == []
    assert tried.disks == DISKS[work]
    assert tried.refused >= 1
