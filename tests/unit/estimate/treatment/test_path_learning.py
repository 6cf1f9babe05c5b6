"""What a pool teaches, and what it does not."""

from dataclasses import asdict
from datetime import timedelta

import numpy as np
import pytest
from support.measuring import measure
from support.path_learning import LearningSettings, learn, moved_to, settings_with, vector_of
from support.path_people import SETTINGS, START, curve, doses_frame, life, untreated

from gramrise.estimate.path.candidates import candidates_of, shipped_parameters
from gramrise.estimate.path.parameters import PathParameters
from gramrise.estimate.path.stretches import untreated_stretches


def test_with_nothing_to_learn_from_the_parameters_are_the_shipped_ones():
    inputs, screened = life(treatments=1)
    nobody = type(inputs)(inputs.person)
    assert learn([(nobody, screened[:0])], SETTINGS).parameters == shipped_parameters(SETTINGS)


def test_parameters_survive_a_journey_through_json_and_through_their_vector():
    shipped = shipped_parameters(SETTINGS)
    assert PathParameters.from_json(asdict(shipped)) == shipped
    assert vector_of(moved_to(shipped, vector_of(shipped))) == pytest.approx(vector_of(shipped))


def test_a_fall_that_ends_in_a_treatment_is_followed_up_to_it_and_not_left_out():
    inputs, _ = life(treatments=1)
    stretches = untreated_stretches(inputs, SETTINGS)
    assert stretches.height > 0
    before_dose = START - timedelta(minutes=SETTINGS.stretches.times_unsure_min)
    assert stretches["window_to_utc"].min() <= before_dose


def test_after_glucose_no_stretch_begins_for_two_hours():
    inputs, _ = life(treatments=1)
    eaten_at, gap = START - timedelta(minutes=90), timedelta(minutes=SETTINGS.stretches.eaten_before_min)
    eaten = doses_frame([(eaten_at, 4.0)])
    without = untreated_stretches(type(inputs)(inputs.person, inputs.readings), SETTINGS)["first_dose_utc"]
    begins = untreated_stretches(type(inputs)(inputs.person, inputs.readings, doses=eaten), SETTINGS)["first_dose_utc"]
    in_the_gap = without.is_between(eaten_at, eaten_at + gap)
    assert in_the_gap.sum() >= 2
    assert begins.to_list() == without.filter(~in_the_gap).to_list() != []


def test_a_person_whose_rises_pass_quickly_is_told_from_one_whose_rises_stay():
    quick, slow = curve(gut_min=11.0, disposal_per_min=0.04), curve(disposal_per_min=0.006)
    shares = []
    for shape in (quick, slow):
        found = measure(*life(factor=12.0, treatments=15, shape=shape), SETTINGS, with_paths=False)
        shares.append(sum(w * c.disposal_per_min for w, c in zip(found.weights, found.candidates, strict=True)))
    assert shares[0] > 1.5 * shares[1]


def test_the_candidates_span_the_published_range_of_absorption():
    tablets = [c.gut_min["tablet"] for c in candidates_of(SETTINGS)]
    assert min(tablets) == pytest.approx(8.0, abs=0.5)
    assert 12.0 < max(tablets) < 16.0


@pytest.mark.slow
def test_a_pool_with_slow_absorption_teaches_slow_absorption():
    slow = curve(gut_min=13.0)

    def level(minutes):
        return untreated(minutes)

    small = LearningSettings(sd={"gut_tablet": 0.3, "drive_sd": 0.5})
    pool = [life(factor=f, treatments=8, shape=slow, seed=s, level=level) for s, f in enumerate((7.0, 9.0, 11.0))]
    learned = learn(pool, SETTINGS, small)
    assert learned.treated_n == 24
    assert learned.parameters.gut_min["tablet"] > shipped_parameters(SETTINGS).gut_min["tablet"] * 1.1
    changed = settings_with(SETTINGS, learned.parameters)
    found = [np.median(measure(*each, changed, False).frame["factor_hat_mg_dl_per_g"]) for each in pool]
    assert found == pytest.approx([7.0, 9.0, 11.0], rel=0.3)
