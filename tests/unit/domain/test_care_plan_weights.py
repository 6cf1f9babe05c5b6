"""From which weight on an amount of the care plan counts as far from it."""

from gramrise.domain.care_plan import CarePlan, contradictions


def test_what_is_enough_at_50_kg_is_no_slip_for_anybody_heavier():
    assert contradictions(CarePlan(standard_grams=3.76), 80.0) == ()  # 0.075 g/kg at 50 kg is 3.75 g
    assert "plan_far_from_weight" in contradictions(CarePlan(standard_grams=3.74), 80.0)


def test_grams_at_the_bounds_for_a_weight_are_still_a_plan():
    """0.075 and 1 g per kg themselves are no slip; our choice."""
    for grams in (3.0, 40.0):
        assert "plan_far_from_weight" not in contradictions(CarePlan(standard_grams=grams), 40.0)
    for grams in (2.99, 40.01):
        assert "plan_far_from_weight" in contradictions(CarePlan(standard_grams=grams), 40.0)
