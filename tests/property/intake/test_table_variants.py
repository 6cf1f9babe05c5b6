"""Tables of known truth in nine languages: none read wrongly, none lost in silence, the undecidable ones all asked."""

from collections import Counter

import pytest
from support.table_variants import (
    ASKED_NEEDLESSLY,
    ASKED_RIGHTLY,
    FAMILIES,
    LOST,
    RIGHT,
    WORDS,
    WRONG,
    drawn_tables,
    verdict_of,
)

SEEDS = range(5)
LEAST_TABLES = 1000
LEAST_SHARE_READ_AT_ONCE = 0.85


@pytest.fixture(scope="module")
def verdicts(tmp_path_factory):
    """(label, verdict, name, why) of every table."""
    folder = tmp_path_factory.mktemp("tables")
    return [
        (drawn.label, *verdict_of(drawn, folder)[:1], f"{drawn.name} [{language}, seed {seed}]", drawn.family)
        for seed, language, drawn in drawn_tables(SEEDS)
    ]


def test_there_are_enough_tables_of_every_family_and_language(verdicts):
    assert len(verdicts) >= LEAST_TABLES
    families = Counter(family for *_, family in verdicts)
    assert len(families) == len(set(FAMILIES))
    assert min(families.values()) >= len(SEEDS) * len(WORDS)
    labels = Counter(label for label, *_ in verdicts)
    assert min(labels["read"], labels["ask"]) >= LEAST_TABLES / 3


def test_no_table_is_read_wrongly(verdicts):
    assert [name for _, verdict, name, _ in verdicts if verdict == WRONG] == []


def test_no_table_loses_anything_in_silence(verdicts):
    assert [name for _, verdict, name, _ in verdicts if verdict == LOST] == []


def test_every_undecidable_table_is_asked_about_with_a_question_that_has_an_answer(verdicts):
    asked = [verdict for label, verdict, *_ in verdicts if label == "ask"]
    assert set(asked) == {ASKED_RIGHTLY}


def test_most_decidable_tables_are_read_at_once(verdicts):
    counts = Counter(verdict for label, verdict, *_ in verdicts if label == "read")
    assert set(counts) <= {RIGHT, ASKED_NEEDLESSLY}
    assert counts[RIGHT] >= LEAST_SHARE_READ_AT_ONCE * counts.total()
