"""What a file's readings say of times that were told before."""

from datetime import timedelta

import pytest
from support.store_logs import NIGHT, NOW, batch, dose, readings

from gramrise.domain.units import MG_DL_PER_MMOL_L

TRACE = [100 + 7 * n % 61 for n in range(60)]


def overlap(store, values, start=NIGHT, content_hash="h2", **how):
    with store.taking_in(NOW, dry_run=True, **how) as put:
        put.batch(batch(content_hash, readings=readings(values, start)))
    return put.overlap


@pytest.fixture
def known(store):
    store.take_in(batch(readings=readings(TRACE), doses=dose()), NOW)
    return store


@pytest.mark.parametrize("minutes", [-120, -30, 60, 105])
def test_the_same_trace_by_another_clock_is_known_by_how_much_it_is_off(known, minutes):
    found = overlap(known, TRACE, NIGHT + timedelta(minutes=minutes))
    assert found.minutes_later() == minutes
    assert found.differing + found.equal == 60 - abs(minutes) // 5


def test_another_trace_is_not_taken_for_one_by_another_clock(known):
    assert overlap(known, [100 + 11 * n % 59 for n in range(60)]).minutes_later() == 0


def test_the_same_trace_to_another_decimal_contradicts_nothing(known):
    in_mmol = [round(value / MG_DL_PER_MMOL_L, 2) * MG_DL_PER_MMOL_L + 0.3 for value in TRACE]
    found = overlap(known, in_mmol)
    assert (found.equal, found.differing) == (60, 0)


def test_a_file_that_is_read_otherwise_when_looked_at_again_does_not_contradict_itself(known):
    found = overlap(known, [value + 40 for value in TRACE], content_hash="h1", retry=True)
    assert found.differing == 0


def test_times_never_told_before_contradict_nothing(known):
    found = overlap(known, TRACE, NIGHT + timedelta(days=3))
    assert (found.equal, found.differing) == (0, 0)
