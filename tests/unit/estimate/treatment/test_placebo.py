"""The person's own placebo: what a pretended dose finds on falls that nobody treated."""

from dataclasses import replace

import numpy as np
import pytest
from support.untreated_falls import falls

from gramrise.domain.frames import LOWS
from gramrise.estimate.path_settings import shipped
from gramrise.estimate.treatment.measurement import MeasurementSetup
from gramrise.estimate.treatment.placebo import path_offset
from gramrise.estimate.treatment.untreated_evidence import latest_stretches

SETTINGS = shipped()
SETUP = MeasurementSetup.of(SETTINGS)
PATHS = tuple(dict.fromkeys(candidate.path for candidate in SETUP.model.candidates))
STEADY, _, SUDDEN = PATHS
RULES = SETTINGS.placebo


def stretches_of(path, days=12, seed=1):
    inputs, now = falls(path, days=days, seed=seed)
    found = latest_stretches(inputs, LOWS.empty(), now, SETTINGS)
    assert found is not None
    return found


def test_without_stretches_nothing_comes_off_and_all_the_doubt_is_left():
    nothing = path_offset(None, SETUP)
    assert not nothing.rise_mg_dl.any()
    assert (nothing.sd_mg_dl == RULES.person_sd_mg_dl).all()


def test_fewer_stretches_than_asked_for_say_nothing():
    found = stretches_of(STEADY)
    few = replace(found, windows=found.windows.chosen(np.arange(1)), probability=found.probability[:1])
    assert not path_offset(few, SETUP).rise_mg_dl.any()


def test_falls_that_turn_earlier_than_thought_take_more_off_every_rise():
    """A path that is drawn back sooner looks to the steady one as if glucose had been given."""
    offs = {
        path: [path_offset(stretches_of(path, seed=n), SETUP).rise_mg_dl[0] for n in (1, 2)]
        for path in (STEADY, SUDDEN)
    }
    assert min(offs[SUDDEN]) > max(offs[STEADY]) + 1.0


def test_stretches_leave_less_doubt_than_none():
    assert (path_offset(stretches_of(STEADY), SETUP).sd_mg_dl < RULES.person_sd_mg_dl).all()


def test_a_stretch_that_was_surely_treated_does_not_count():
    found = stretches_of(STEADY)
    none_untreated = replace(found, probability=np.zeros_like(found.probability))
    assert not path_offset(none_untreated, SETUP).rise_mg_dl.any()


@pytest.mark.parametrize("lift", [60.0, 120.0])
def test_one_wild_stretch_moves_the_offset_little(lift):
    """One meal that nobody logged among many falls."""
    found = stretches_of(STEADY)
    windows = found.windows
    assert windows.row.size >= 15
    after = windows.minutes[-1] > 10
    wild = windows.values.copy()
    wild[-1] += np.where(after, lift, 0.0)
    moved = replace(found, windows=replace(windows, values=wild))
    change = path_offset(moved, SETUP).rise_mg_dl - path_offset(found, SETUP).rise_mg_dl
    assert np.abs(change).max() < lift / windows.row.size
