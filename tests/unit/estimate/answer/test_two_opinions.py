"""The answer out of two opinions."""

import numpy as np
import pytest

from gramrise.estimate.answer.two_opinions import weighed
from gramrise.estimate.settings import shipped

SETTINGS = shipped().second_opinion.model_copy(
    update={"part": 0.3, "disagreement_part": 0.3, "halved_at_log_distance": 0.5}
)
OURS, THEIRS = np.array([0.0, 0.2]), np.array([0.1, 0.2])
BAND = np.array([0, 0, 1, 1])


def test_the_regression_counts_by_three_tenths_where_it_used_every_treatment():
    """A tenth apart in the log: 0.3 / 1.04 of the way."""
    both = weighed(OURS, THEIRS, BAND, np.ones(4, dtype=bool), SETTINGS)
    assert both.combined.tolist() == pytest.approx([0.03 / 1.04, 0.2])


def test_where_it_used_half_of_the_treatments_it_counts_by_half_of_that():
    both = weighed(OURS, THEIRS, BAND, np.array([True, False, True, True]), SETTINGS)
    assert both.part.tolist() == pytest.approx([0.15 / 1.04, 0.3])
    assert both.combined[0] == pytest.approx(0.015 / 1.04)


def test_one_that_lies_half_a_log_away_counts_half():
    both = weighed(OURS, OURS + 0.5, BAND, np.ones(4, dtype=bool), SETTINGS)
    assert both.part.tolist() == pytest.approx([0.15, 0.15])


def test_where_it_used_none_ours_is_the_answer_without_added_doubt():
    both = weighed(OURS, THEIRS, BAND, np.zeros(4, dtype=bool), SETTINGS)
    assert both.combined.tolist() == OURS.tolist()
    assert not both.disagreement_sd_log.any()
    assert both.with_disagreement(np.array([0.1, 0.1])).tolist() == pytest.approx([0.1, 0.1])


def test_the_further_apart_the_two_lie_the_wider_the_interval():
    apart, close = (
        weighed(OURS, OURS + log, BAND, np.ones(4, dtype=bool), SETTINGS).with_disagreement(np.array([0.1, 0.1]))[0]
        for log in (0.5, 0.1)
    )
    assert apart == pytest.approx(np.hypot(0.085, 0.15))
    assert close < apart


def test_a_person_without_treatments_gets_ours():
    none = np.zeros(0, dtype=np.int64)
    assert weighed(OURS, THEIRS, none, none.astype(bool), SETTINGS).combined.tolist() == OURS.tolist()
