"""Which of many a panel lists: the expected share of false alarms, by hand and as a property."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gramrise.domain.drift import listed_as_moved


def test_the_list_is_as_long_as_the_share_allows():
    # 1 - p is 0.02, 0.05, 0.20, 0.60; means 0.02, 0.035, 0.09, 0.2175: three may be listed.
    listed, expected = listed_as_moved([0.40, 0.98, 0.80, 0.95])
    assert listed == (1, 3, 2)
    assert expected == pytest.approx(0.09)


def test_a_share_met_again_further_down_counts():
    # Means 0.12, 0.12, ...: none is listed where even the first is too doubtful.
    assert listed_as_moved([0.88, 0.88]) == ((), 0.0)


def test_nobody_means_an_empty_list():
    assert listed_as_moved([]) == ((), 0.0)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), max_size=30), st.floats(0.0, 0.5))
def test_the_share_holds_and_nobody_more_probable_is_left_out(probabilities, share):
    listed, expected = listed_as_moved(probabilities, share)
    left = [p for i, p in enumerate(probabilities) if i not in listed]
    assert expected <= share
    assert max(left, default=0.0) <= min((probabilities[i] for i in listed), default=1.0)
