"""Properties of the invented world that hold whatever is drawn."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from virtual.hovorka import absorbed_share, add_absorption
from virtual.living import dose_effect_g
from virtual.sensor import DIP_SHAPES, dip_course
from virtual.settings import shipped

# The first call of a compiled function compiles it.
quick = settings(max_examples=50, deadline=None)
grams = st.floats(0.5, 40.0)
exponents = st.floats(0.7, 1.0)


@quick
@given(st.floats(0, 600), st.floats(0, 600), st.floats(6, 90))
def test_what_has_been_absorbed_is_never_given_back(one: float, other: float, time_min: float) -> None:
    early, late = sorted((absorbed_share(one, time_min), absorbed_share(other, time_min)))
    assert 0.0 <= early <= late <= 1.0
    assert (absorbed_share(max(one, other), time_min)) == late


@quick
@given(st.integers(0, 200), grams, st.floats(6, 20))
def test_nothing_is_absorbed_before_it_is_swallowed_nor_more_than_was(
    minute: int, amount: float, time_min: float
) -> None:
    inflow = np.zeros(500)
    add_absorption(inflow, minute, amount, time_min)
    assert not inflow[:minute].any()
    assert inflow.sum() <= amount * (1 + 1e-9)


@quick
@given(grams, grams, exponents)
def test_more_glucose_always_counts_for_more_but_never_for_more_than_its_share(
    first: float, second: float, exponent: float
) -> None:
    alone = dose_effect_g(first, 0.0, 8.0, exponent)
    both = alone + dose_effect_g(second, first, 8.0, exponent)
    assert both > alone
    assert both <= alone * (first + second) / first * (1 + 1e-9)


@quick
@given(st.sampled_from(DIP_SHAPES), st.integers(10, 120), st.floats(5, 60), st.integers(0, 10**6))
def test_a_pressure_dip_only_lowers_and_never_deeper_than_drawn(
    shape: str, minutes: int, depth: float, seed: int
) -> None:
    course = dip_course(shape, minutes, depth, shipped().sensor, np.random.default_rng(seed))
    assert (course >= 0).all()
    assert course.max() <= depth * (1 + 1e-9)
    assert course[-1] < 0.05 * depth
