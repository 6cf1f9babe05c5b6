"""Statements about what a family gives and has agreed: from when they hold, and how one is taken back."""

from datetime import date

import pytest

from gramrise.cli.changed_facts import with_plan
from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Form, Source
from gramrise.domain.stated_sources import with_source, without_source

BORN, MAY, JUNE, JULY = date(2016, 4, 2), date(2026, 5, 1), date(2026, 6, 1), date(2026, 7, 1)


def pieces(name: str, grams: float) -> Source:
    return Source(name, Form.TABLET, grams)


def held(sources, day):
    return {source.name: source.grams_per_piece for source in sources.on(day) or ()}


@pytest.fixture
def two():
    """Tabs of 4 g always; candy from June on."""
    return with_source(with_source(Dated(), pieces("tabs", 4), BORN), pieces("candy", 1), JUNE)


def test_a_source_stated_for_all_time_is_there_after_a_later_statement_about_another(two):
    more = with_source(two, pieces("gel", 10), BORN)
    assert held(more, MAY) == {"tabs": 4, "gel": 10}
    assert held(more, JULY) == {"tabs": 4, "candy": 1, "gel": 10}


def test_a_corrected_strength_corrects_the_time_after_later_statements_about_others_too(two):
    mended = with_source(two, pieces("tabs", 3), BORN)
    assert held(mended, MAY) == {"tabs": 3}
    assert held(mended, JULY) == {"tabs": 3, "candy": 1}


def test_a_strength_stated_for_a_later_day_stands_from_that_day_on(two):
    changed = with_source(with_source(two, pieces("tabs", 5), JULY), pieces("tabs", 3), BORN)
    assert held(changed, JUNE) == {"tabs": 3, "candy": 1}
    assert held(changed, JULY) == {"tabs": 5, "candy": 1}


def test_a_slip_is_taken_back_for_all_time_and_a_source_no_longer_used_from_its_day_on(two):
    assert held(without_source(two, "tabs", None), MAY) == {}
    assert held(without_source(two, "tabs", None), JULY) == {"candy": 1}
    gone = without_source(two, "tabs", JULY)
    assert held(gone, JUNE) == {"tabs": 4, "candy": 1}
    assert held(gone, JULY) == {"candy": 1}


def test_what_is_gone_from_a_day_on_does_not_come_back_with_an_earlier_correction(two):
    gone = with_source(without_source(two, "tabs", JULY), pieces("tabs", 3), BORN)
    assert held(gone, JUNE) == {"tabs": 3, "candy": 1}
    assert held(gone, JULY) == {"candy": 1}


def test_a_source_nobody_stated_cannot_be_taken_back(two):
    with pytest.raises(WrongUse, match="one of: candy, tabs"):
        without_source(two, "tab", None)


def test_what_is_added_to_an_earlier_plan_is_part_of_the_later_ones_that_do_not_contradict_it():
    plans = with_plan(Dated(), {"contacts": ("Mum",), "most_grams": 12.0}, JUNE)
    plans = with_plan(plans, {"most_grams": 16.0}, JULY)
    plans = with_plan(plans, {"below_54_grams": 15.0, "most_grams": 10.0}, MAY)
    told = {day: (plans.on(day).contacts, plans.on(day).below_54_grams, plans.on(day).most_grams) for day in
            (MAY, JUNE, JULY)}  # fmt: skip
    assert told == {MAY: ((), 15.0, 10.0), JUNE: (("Mum",), 15.0, 12.0), JULY: (("Mum",), 15.0, 16.0)}


@pytest.mark.parametrize("name", ["D4", "gel 15", "half tab", "½ candy", "halbe Tablette"])
def test_a_name_that_counts_is_refused(two, name):
    with pytest.raises(WrongUse, match="has a number in it"):
        with_source(two, pieces(name, 4), MAY)


def test_a_name_that_counts_and_is_known_since_before_may_be_mended():
    known = Dated(((BORN, (pieces("D4", 4),)),))
    assert held(with_source(known, pieces("D4", 3), BORN), MAY) == {"D4": 3}
