"""The exact search against brute force over every laying."""

from itertools import product
from math import exp, log

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from gramrise.place import lay
from gramrise.place.layings import ways_to_lay

WEIGHTS = st.floats(-8, 2, allow_nan=False)
COMPARED: list[int] = []


@st.composite
def problems(draw):
    pieces = draw(st.integers(1, 5))
    places = draw(st.integers(0, 4))
    evidence = [draw(st.lists(WEIGHTS, min_size=pieces + 1, max_size=pieces + 1)) for _ in range(places)]
    return pieces, evidence, [n * log(draw(st.floats(0.01, 0.9))) for n in range(pieces + 1)]


def brute_force(pieces, evidence, elsewhere):
    """Every laying with its probability, likeliest first."""
    ways = {}
    for laid in product(range(pieces + 1), repeat=len(evidence)):
        if sum(laid) <= pieces:
            weight = elsewhere[pieces - sum(laid)] + sum(each[n] for each, n in zip(evidence, laid, strict=True))
            ways[laid] = exp(weight)
    total = sum(ways.values())
    return {laid: weight / total for laid, weight in ways.items()}


# As large as they are drawn: random draws alone once stayed below fifty layings.
LARGEST = (5, [[0.0, -1.0, -2.0, -1.5, -3.0, -2.5]] * 4, [n * log(0.3) for n in range(6)])


@example(LARGEST)
@given(problems())
@settings(max_examples=150, deadline=None)
def test_probabilities_ways_and_sums_are_those_of_every_laying(problem):
    pieces, evidence, elsewhere = problem
    truth = brute_force(pieces, evidence, elsewhere)
    laid = lay(pieces, evidence, elsewhere, most=1000)
    assert laid.ways == len(truth) == len(laid.layings)
    assert {way.pieces: pytest.approx(way.probability, abs=1e-9) for way in laid.layings} == truth
    assert all(sum(way.pieces) + way.elsewhere == pieces for way in laid.layings)
    expected = [sum(p * way[nth] for way, p in truth.items()) for nth in range(len(evidence))]
    assert list(laid.expected_pieces) == pytest.approx(expected, abs=1e-9)
    COMPARED.append(len(truth))


@given(problems(), st.integers(1, 4))
@settings(max_examples=100, deadline=None)
def test_the_few_that_are_shown_are_the_likeliest_and_none_of_it_here_is_one(problem, most):
    pieces, evidence, elsewhere = problem
    truth = sorted(brute_force(pieces, evidence, elsewhere).values(), reverse=True)
    shown = lay(pieces, evidence, elsewhere, most).layings
    assert len(shown) == min(most, len(truth))
    assert (0,) * len(evidence) in [way.pieces for way in shown]
    if most > 1:
        assert shown[0].probability == pytest.approx(truth[0], abs=1e-9)


def test_the_draws_compared_enough_layings():
    assert len(COMPARED) >= 100
    assert max(COMPARED) > 50


def test_seven_pieces_on_six_places_and_elsewhere_lie_in_1716_ways():
    assert ways_to_lay(7, 7) == 1716
