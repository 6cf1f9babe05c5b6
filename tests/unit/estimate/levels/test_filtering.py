"""The person's levels: the table where nothing is known, the treatments where they speak."""

from dataclasses import replace

import numpy as np
import pytest
from support.level_people import evidence

from gramrise.estimate.levels.band_levels import filtering_update, level_model, levels_at, prior_state
from gramrise.estimate.settings import shipped

approx = pytest.approx
MODEL = level_model(shipped().levels)


def after(*parts, bands=2, week=0, changes=0):
    state = prior_state(bands, MODEL)
    for part in parts:
        state, _ = filtering_update(state, part, MODEL)
    return levels_at(state, week, changes, MODEL)


def test_without_treatments_the_level_is_the_table_with_the_published_spread():
    found = after()
    assert found.mean == approx([0.0, 0.0])
    assert found.sd == approx([np.hypot(0.35, 0.28)] * 2)


def test_without_treatments_two_bands_share_what_the_person_shares():
    found = after()
    assert found.covariance[0, 1] == approx(0.35**2)


def test_thirty_treatments_at_twice_the_table_bring_the_level_there():
    found = after(evidence([2.0] * 30))
    assert np.exp(found.mean[0]) == approx(2.0, rel=0.07)
    assert found.sd[0] < 0.12


def test_one_treatment_moves_the_level_only_part_of_the_way():
    found = after(evidence([2.0]))
    assert 1.05 < np.exp(found.mean[0]) < 1.6


def test_the_other_band_follows_a_part_of_the_way():
    found = after(evidence([2.0] * 30, band=0))
    assert 0.3 * found.mean[0] < found.mean[1] < 0.8 * found.mean[0]


def test_three_bands_are_no_different_from_two():
    two, three = after(evidence([1.5] * 10), bands=2), after(evidence([1.5] * 10), bands=3)
    assert three.mean[:2] == approx(two.mean)
    assert three.mean[2] == approx(two.mean[1])


def test_one_odd_treatment_among_twenty_hardly_moves_the_level():
    plain, odd = after(evidence([1.0] * 20)), after(evidence([1.0] * 20 + [8.0]))
    assert odd.mean[0] - plain.mean[0] < 0.05


def test_a_level_that_fell_all_the_same_is_learned_from_too():
    # A measured factor below zero has no logarithm; it still says "small".
    found = after(evidence([-0.5] * 4, sd=0.8))
    assert np.isfinite(found.mean).all()
    assert found.mean[0] < -0.2


def test_a_measurement_that_says_nothing_changes_nothing():
    found = after(evidence([5.0] * 10, sd=1e4))
    assert found.mean == approx([0.0, 0.0], abs=1e-3)
    assert found.sd == approx([np.hypot(0.35, 0.28)] * 2, rel=1e-3)


def test_the_level_is_the_median_of_treatments_not_their_mean():
    # Skewed treatments: half at 0.6, half at 1/0.6 of the table; mean 1.13, median (on the log) 1.
    found = after(evidence([0.6, 1 / 0.6] * 20, sd=0.05))
    assert np.exp(found.mean[0]) == approx(1.0, abs=0.04)


def test_wide_scatter_is_learned_as_wide_scatter():
    rng = np.random.default_rng(5)
    calm = after(evidence(np.exp(0.2 * rng.normal(size=60)), sd=0.05))
    wild = after(evidence(np.exp(0.8 * rng.normal(size=60)), sd=0.05))
    assert calm.event_sd_log < 0.35
    assert wild.event_sd_log > 0.55
    assert calm.sd[0] < wild.sd[0]


def test_old_treatments_count_less_than_new_ones():
    old_high = after(evidence([1.6] * 20, week=0), evidence([1.0] * 20, week=50), week=50)
    old_low = after(evidence([1.0] * 20, week=0), evidence([1.6] * 20, week=50), week=50)
    assert old_low.mean[0] > old_high.mean[0] + 0.1


def test_years_without_treatments_lead_back_to_the_table():
    soon, late = (after(evidence([2.0] * 30), week=week) for week in (1, 1500))
    assert late.mean[0] < 0.6 * soon.mean[0]
    assert late.sd[0] > 2 * soon.sd[0]


def test_after_a_change_of_delivery_the_level_is_half_forgotten():
    before, fresh = (after(evidence([2.0] * 30), changes=changes) for changes in (0, 1))
    assert fresh.mean[0] == approx(0.5 * before.mean[0])
    assert fresh.sd[0] > 2 * before.sd[0]
    relearned = after(evidence([2.0] * 30), evidence([1.0] * 30, week=2, delivery_changes=1), week=2, changes=1)
    assert np.exp(relearned.mean[0]) == approx(1.0, abs=0.1)


def test_what_is_foretold_of_a_treatment_does_not_know_it():
    told = []
    for last in (0.5, 4.0):
        _, prior_predictive = filtering_update(prior_state(1, MODEL), evidence([1.4] * 10 + [last]), MODEL)
        told.append(prior_predictive.level[-1])
        assert prior_predictive.level[0] == approx(0.0)
    assert told[0] == told[1]


def test_long_histories_are_learned_in_parts_with_the_same_result():
    rng = np.random.default_rng(2)
    many = evidence(np.exp(rng.normal(0, 0.4, 700)), week=np.sort(rng.integers(0, 200, 700)))
    at_once = after(many, week=200)
    in_two = after(many.part(slice(0, 311)), many.part(slice(311, None)), week=200)
    assert in_two.mean == approx(at_once.mean, abs=1e-12)
    assert in_two.covariance == approx(at_once.covariance, abs=1e-12)


def test_a_persons_own_starting_spread_is_a_setting():
    wide = level_model(shipped().levels.model_copy(update={"person_sd_log": 1.0}))
    narrow, open_minded = (
        after(evidence([3.0] * 2)),
        levels_at(filtering_update(prior_state(2, wide), evidence([3.0] * 2), wide)[0], 0, 0, wide),
    )
    assert open_minded.mean[0] > narrow.mean[0]
    assert replace(evidence([1.0]), ratio=np.array([2.0])).ratio[0] == 2.0


def test_treatments_out_of_order_are_refused():
    with pytest.raises(ValueError, match="event order"):
        after(evidence([1.0, 1.0], week=[3, 2]))
    with pytest.raises(ValueError, match="event order"):
        after(evidence([1.0], week=5), evidence([1.0], week=4))
