"""The evidence of a step: by hand on three cells, and what bounds it however often one looks."""

from itertools import product

import numpy as np
import pytest
from support.drift_chains import small_model

from gramrise.estimate.drift.step_evidence import evidence_of_change, first_step_weights, log_odds_of_steps

# How probable each of two outcomes of a week is at each of three levels.
OUTCOMES = np.array([[0.8, 0.5, 0.1], [0.2, 0.5, 0.9]])


def of_none(level, weeks):
    return float((level * weeks.prod(axis=0)).sum())


def test_the_odds_are_the_sums_over_level_before_and_after():
    rng = np.random.default_rng(4)
    model, level, weeks = small_model(rng), np.array([0.2, 0.5, 0.3]), rng.uniform(0.1, 1.0, (4, 3))
    odds = log_odds_of_steps(level[None], weeks[None], model)
    expected = [
        sum(
            level[i] * weeks[:week, i].prod() * model.jump[i, j] * weeks[week:, j].prod()
            for i, j in product(range(3), repeat=2)
        )
        / of_none(level, weeks)
        for week in range(4)
    ]
    assert np.exp(odds[0]) == pytest.approx(expected, rel=1e-12)


def test_while_nothing_changes_the_evidence_is_one_on_average():
    # So it is a fair bet, and by Ville's inequality it reaches k with a chance of at most 1 in k.
    model, level = small_model(np.random.default_rng(5)), np.array([0.2, 0.5, 0.3])
    weight = np.full(3, 1 / 3)
    mean = 0.0
    for outcomes in product((0, 1), repeat=3):
        weeks = OUTCOMES[list(outcomes)]
        odds = log_odds_of_steps(level[None], weeks[None], model)
        mean += of_none(level, weeks) * np.exp(evidence_of_change([odds], np.ones(1), weight).log_evidence)
    assert mean == pytest.approx(1.0, rel=1e-12)


def test_evidence_of_two_bands_is_shared_by_hand():
    # Steps into the first of two weeks: band A 8 times, band B 2 times as good; into the second 1 and 1.
    a, b = np.log([[8.0, 1.0]]), np.log([[2.0, 1.0]])
    found = evidence_of_change([a, b], np.ones(1), np.array([0.5, 0.5]))
    alone_a, alone_b, together = 4.5 / 4, 1.5 / 4, 8.5 / 2
    whole = alone_a + alone_b + together
    assert np.exp(found.log_evidence) == pytest.approx(whole)
    assert found.band_share == pytest.approx([(alone_a + together) / whole, (alone_b + together) / whole])


def test_scatters_are_weighed():
    found = evidence_of_change([np.log([[4.0], [1.0]])], np.array([0.25, 0.75]), np.ones(1))
    assert np.exp(found.log_evidence) == pytest.approx(0.25 * 4.0 + 0.75 * 1.0)


def test_however_one_looks_week_by_week_the_evidence_is_a_fair_bet():
    # What it is today is what it will be next week on average, given all that was seen and that nothing changes.
    model, level = small_model(np.random.default_rng(6)), np.array([0.2, 0.5, 0.3])
    weights = first_step_weights(np.array([0.1, 0.7, 0.1, 0.3]))

    def evidence(outcomes):
        odds = log_odds_of_steps(level[None], OUTCOMES[list(outcomes)][None], model)
        return np.exp(evidence_of_change([odds], np.ones(1), weights[: len(outcomes)]).log_evidence)

    def chance(outcomes):
        return of_none(level, OUTCOMES[list(outcomes)])

    seen = list(product((0, 1), repeat=3))
    now = [evidence(past) for past in seen]
    next_week = [
        sum(chance((*past, week)) / chance(past) * evidence((*past, week)) for week in (0, 1)) for past in seen
    ]
    assert next_week == pytest.approx(now, rel=1e-12)
    assert max(now) / min(now) > 1.2


def test_the_first_step_comes_once_by_hand():
    # Hazards ln 2 and ln 4: half of the chance in the first week, three quarters of the half left in the second.
    assert first_step_weights(np.log([2.0, 4.0])) == pytest.approx([0.5, 0.375])


def test_what_no_step_has_come_yet_keeps_its_weight():
    # Half the chance that a step came, which explains the weeks 8 times as well; half that none did.
    found = evidence_of_change([np.log([[8.0]])], np.ones(1), np.array([0.5]))
    assert np.exp(found.log_evidence) == pytest.approx(0.5 * 8.0 + 0.5)
