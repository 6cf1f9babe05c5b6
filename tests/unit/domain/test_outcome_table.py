"""The tables of outcomes and evidence are closed, complete and in the household's words."""

import re

import pytest

from gramrise.domain.outcomes import EVIDENCE, OUTCOMES
from gramrise.domain.words import Outcome


def test_every_outcome_has_its_sentences_and_no_other():
    assert set(OUTCOMES) == {str(outcome) for outcome in Outcome}


@pytest.mark.parametrize("told", [*OUTCOMES.values(), *EVIDENCE.values()], ids=[*OUTCOMES, *EVIDENCE])
def test_a_code_speaks_to_the_parent_and_to_the_clinic_in_a_whole_sentence(told):
    for sentence in (told.parent, told.clinic):
        assert sentence[0].isupper()
        assert sentence.endswith(".")
    assert not re.search(r"\b(dose|factor)\b", told.parent)
