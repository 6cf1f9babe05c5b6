"""From which weight on an amount of the care plan counts as far from it."""

from gramrise.domain.care_plan import CarePlan, contradictions


def test_what_is_enough_at_50_kg_is_no_slip_for_anybody_heavier():
    assert contradictions(CarePlan(standard_grams=3.76), 80.0) == ()  # 0.075 g/kg at 50 kg is 3.75 g
    assert "plan_far_from_weight" in contradictions(CarePlan(standard_grams=3.74), 80.0)
