"""The table of reasons is closed, complete and in the household's words."""

import re

import pytest

from gramrise.domain.reasons import REASONS, Effect

# Which reason has which effect; food eaten before, which it leaves open, widens like insulin given before.
NOTED = {"many_doses", "started_above_target", "one_reading"}
WIDENING = {
    "insulin_near",
    "food_before",
    "activity_near",
    "illness_near",
    "lag_unsure",
    "time_doubtful",
    "delivery_changed",
}


def test_each_reason_has_the_effect_that_was_agreed():
    by_effect = {effect: {r.code for r in REASONS.values() if r.effect is effect} for effect in Effect}
    assert by_effect[Effect.NOTE] == NOTED
    assert by_effect[Effect.WIDEN] == WIDENING
    assert by_effect[Effect.CUT] == {"cut_short"}
    assert by_effect[Effect.SET_ASIDE] == set(REASONS) - NOTED - WIDENING - {"cut_short"}


@pytest.mark.parametrize("reason", REASONS.values(), ids=list(REASONS))
def test_a_reason_speaks_to_the_parent_and_to_the_clinic_in_a_whole_sentence(reason):
    for sentence in (reason.parent, reason.clinic):
        assert sentence[0].isupper()
        assert sentence.endswith(".")
    # In this household "dose" is insulin, and a bare "factor" means nothing to a parent.
    assert not re.search(r"\b(dose|factor)\b", reason.parent)
