"""Killed on entering any call that renames, writes or syncs, a command leaves what its next run completes."""

import warnings

import pytest

from faults import kills

pytestmark = pytest.mark.slow

NO_STRACE = kills.can_kill()
# A bounded run; the long one is tests/benchmark/faults.py.
KILLS = {
    "import": 2,
    "nightly": 1,
    "schedule": 1,
    "backup": 1,
    "restore": 3,
    "restore over damage": 2,
    "forget": 2,
}


@pytest.mark.parametrize("work", kills.WORKS)
def test_a_command_killed_at_a_system_call_is_completed_by_the_next_run(tmp_path, work):
    if NO_STRACE:
        warnings.warn(f"NOT RUN: kills at system calls ({NO_STRACE})", stacklevel=1)
        pytest.skip(f"NOT RUN: {NO_STRACE}")
    tried = kills.attack(tmp_path, work, KILLS[work])
    assert tried.bad == []
    assert tried.kills >= KILLS[work] - 1  # a call of another thread may not come again
