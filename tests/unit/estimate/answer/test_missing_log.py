"""Which missing log would narrow the interval most."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from support.level_people import AS_OF, NOON, pairings, person

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import EVENTS, PREDICTIONS
from gramrise.estimate.answer.factors import factors_frame
from gramrise.estimate.answer.missing_log import SENTENCES, log_next, log_next_sentence
from gramrise.estimate.levels.band_levels import filtering_update, level_model, levels_at, prior_state
from gramrise.estimate.levels.evidence import Bands, evidence_of
from gramrise.estimate.settings import shipped

DAY = date(2026, 6, 1)


def events(*kinds):
    rows = [("mia", NOON, None, kind, 5.0, "") for kind in kinds]
    return pl.DataFrame(rows, schema=EVENTS.schema, orient="row")


def asked(child, used, kinds=("food", "insulin"), insulin=0.5, settings=None):
    """The code for a person with these pairings; insulin on board known unless None."""
    settings = settings or shipped()
    if insulin is not None:
        used = used.with_columns(insulin_on_board_units=pl.lit(insulin))
    bands, model = Bands.of(child), level_model(settings.levels)
    filed, evidence = evidence_of(child, used, bands, settings)
    state, _ = filtering_update(prior_state(2, model), evidence, model)
    levels = levels_at(state, 2944, 0, model)
    open_between = np.full(2, 0.10)  # what a family's own data usually leave open
    factors = factors_frame(child, AS_OF, DAY, bands, levels, filed, PREDICTIONS.empty(), settings, open_between)
    return log_next(Inputs(child, events=events(*kinds)), used, factors, DAY, settings)


def test_without_a_weight_the_weight_comes_first():
    assert asked(person(kg=None), pairings([])) == "weight"


def test_a_log_of_insulin_is_not_asked_for_as_it_would_narrow_nothing():
    assert asked(person(), pairings([10.0] * 40), kinds=("food",), insulin=None) == ""


def test_doubtful_times_are_named_when_most_treatments_have_them():
    doubtful = pairings([10.0] * 6, reasons=["time_doubtful"], sd=8.0)
    assert asked(person(), doubtful) == "times"


def test_a_child_last_weighed_three_years_ago_should_be_weighed():
    assert asked(person(weighed=date(2023, 6, 1), kg=25.0), pairings([10.0] * 60)) == "weight"


def test_food_is_named_when_none_is_logged_and_the_rest_is():
    assert asked(person(), pairings([10.0] * 60, sd=0.5), kinds=("insulin",)) == "food"


def test_with_everything_logged_nothing_is_asked_for():
    assert asked(person(), pairings([10.0] * 40)) == ""


def test_before_the_first_treatment_no_log_is_asked_for():
    assert asked(person(), pairings([])) == ""


@pytest.mark.parametrize("code", list(SENTENCES))
def test_no_sentence_asks_for_glucose_to_be_given_or_for_waiting(code):
    sentence = log_next_sentence(code).lower()
    assert sentence.endswith(".")
    assert not any(word in sentence for word in ("give", "wait", "let ", "eat "))


def test_nothing_to_log_has_no_sentence():
    assert log_next_sentence("") == ""
