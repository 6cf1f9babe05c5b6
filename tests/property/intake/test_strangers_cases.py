"""Tables by someone who had read intake: none read wrongly or lost, what is undecidable asked with an answer."""

from collections import Counter

import pytest
from support.strangers_cases import CASES
from support.table_variants import ASKED_RIGHTLY, RIGHT, verdict_of

# Every third runs with README's command, all of them in CI.
SHARED = [
    pytest.param(case, id=case.name, marks=pytest.mark.slow if number % 3 else ()) for number, case in enumerate(CASES)
]


@pytest.mark.parametrize("case", SHARED)
def test_a_strangers_table_is_read_as_it_is_or_asked_about(case, tmp_path):
    drawn = case.drawn()
    verdict, why = verdict_of(drawn, tmp_path)
    assert verdict == (ASKED_RIGHTLY if drawn.label == "ask" else RIGHT), why


def test_there_are_a_hundred_and_more_tables_and_no_name_stands_twice():
    names = Counter(case.name for case in CASES)
    assert len(names) == len(CASES) > 100
