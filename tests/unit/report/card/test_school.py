"""The school's card is printed only complete: one amount of the plan, who authorised it, staff, kit."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from support.card_people import BIG_PIECES, LIQUID, PLAN, SCHOOL, SMALL_PIECES, TODAY, always, card, pairings, person

from gramrise.domain.care_plan import CarePlan, SchoolPlan
from gramrise.domain.dates import months_later
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.words import Delivery
from gramrise.report.card.numbers.school import school_gaps
from gramrise.report.card.numbers.void import void_reasons
from gramrise.report.card.pages.face import face_of
from gramrise.report.card.settings import SHIPPED_SETTINGS

WHOLE = Source("tabs", Form.TABLET, grams_per_piece=5.0, stated_as=StatedAs.ANHYDROUS)


def school(**changed):
    return person(replace(PLAN, school=replace(SCHOOL, **changed)))


def test_a_complete_card_lacks_nothing_and_holds_one_amount_without_conditions():
    assert school_gaps(person(), SMALL_PIECES, TODAY, SHIPPED_SETTINGS) == ()
    view = card(for_school=True)
    assert (view.withheld, view.rows, view.bands) == ((), (), ())
    assert (view.school.amount.grams, view.school.amount.units) == (10, 11)
    told = face_of(view).school
    assert told.when == "Below 70\u00a0mg/dL or signs of a low"
    assert told.below_54 == "Below 54\u00a0mg/dL: the same amount at once. Do not leave alone; call."
    assert told.staff == "Trained: Ms. Reyes, Mr. Olsen"
    assert told.year == "For the school year 1 September 2026 to 30 June 2027"
    assert told.authorised == "Authorised by Ada Okafor (parent), 2 September 2026"
    assert "Expires 30 April 2027" in told.kit
    assert "annex" in told.annex.lower()
    assert face_of(view).notes.not_for.lines == ()


@pytest.mark.parametrize(
    ("who", "source", "missing", "mend"),
    [
        (person(name=""), SMALL_PIECES, "the name", "person set mira --name"),
        (person(replace(PLAN, contacts=())), SMALL_PIECES, "whom to call", "--contact"),
        (person(replace(PLAN, contacts=("",))), SMALL_PIECES, "whom to call, with a number", "--contact"),
        (person(replace(PLAN, contacts=("Mama", "mama2@example.org"))), SMALL_PIECES, "with a number", "--contact"),
        (school(staff=(" ",)), SMALL_PIECES, "trained staff by name", "--staff"),
        (school(glucagon_where=""), SMALL_PIECES, "where the glucagon is at school", "--school-glucagon-where"),
        (person(replace(PLAN, approved_by="")), SMALL_PIECES, "the clinician's approval", "--approved-by"),
        (person(replace(PLAN, approved_on=None)), SMALL_PIECES, "the clinician's approval", "--approved-on"),
        (school(grams=None), SMALL_PIECES, "one amount for the school", "--school-grams"),
        (school(grams=9.99), SMALL_PIECES, "between the plan's standard and its most", "--school-grams"),
        (
            person(replace(PLAN, most_grams=10, school=replace(SCHOOL, grams=10.01))),
            SMALL_PIECES,
            "between the plan's standard and its most",
            "--school-grams",
        ),
        (school(), BIG_PIECES, "whole pieces or mL come close", "another one"),
        (school(authorised_by_parent=""), SMALL_PIECES, "a parent's authorisation", "--authorised-by-parent"),
        (school(authorised_on=None), SMALL_PIECES, "a parent's authorisation", "--authorised-on"),
        (school(year_from=None), SMALL_PIECES, "a school year", "--school-year-from"),
        (school(year_until=None), SMALL_PIECES, "a school year", "--school-year-until"),
        (school(year_until=TODAY - timedelta(days=1)), SMALL_PIECES, "a school year", "--school-year-until"),
        (school(staff=()), SMALL_PIECES, "trained staff", "--staff"),
        (school(kit=""), SMALL_PIECES, "what is in the kit", "--kit"),
        (school(kit_expires_on=None), SMALL_PIECES, "expiry of the kit", "--kit-expires"),
        (school(kit_expires_on=TODAY - timedelta(days=1)), SMALL_PIECES, "expiry of the kit", "--kit-expires"),
        (person(), LIQUID, "a sealed source", "--source"),
        (person(), "sweets from the drawer", "a sealed source", "--source"),
    ],
)
def test_each_thing_that_is_missing_is_named_with_what_to_type(who, source, missing, mend):
    with pytest.raises(WrongUse) as refused:
        card(source, who, for_school=True)
    assert missing in refused.value.what
    assert mend in refused.value.mend
    assert len(school_gaps(who, source, TODAY, SHIPPED_SETTINGS)) == 1


def test_the_glucagon_is_told_where_the_card_hangs_and_never_where_another_place_keeps_it():
    at_home, at_school = face_of(card()).notes.emergency.lines, face_of(card(for_school=True)).notes.emergency.lines
    assert "Glucagon is kept: red bag, top shelf" in at_home
    assert "Glucagon is kept: first-aid cupboard, school office" in at_school
    assert not any("red bag" in line for line in at_school)


def test_the_last_days_of_school_year_and_kit_and_the_plans_own_bounds_still_count():
    who = person(replace(PLAN, most_grams=10, school=replace(SCHOOL, year_until=TODAY, kit_expires_on=TODAY)))
    assert school_gaps(who, SMALL_PIECES, TODAY, SHIPPED_SETTINGS) == ()
    no_bounds = person(replace(PLAN, standard_grams=None, school=replace(SCHOOL, grams=0.92)))
    assert school_gaps(no_bounds, SMALL_PIECES, TODAY, SHIPPED_SETTINGS) == ()


def test_with_nothing_stated_all_that_is_missing_is_told_at_once():
    nobody = person(CarePlan(school=SchoolPlan()), name="")
    with pytest.raises(WrongUse) as refused:
        card(LIQUID, nobody, for_school=True)
    for part in ("sealed source", "name", "whom to call", "glucagon", "approval", "amount", "parent", "school year",
                 "staff", "kit"):  # fmt: skip
        assert part in refused.value.what


def test_the_schools_amount_hangs_on_no_number_of_ours_but_on_plan_weight_and_age():
    assert card(who=person(delivery=always(Delivery.AUTOMATED)), for_school=True).withheld == ()
    assert card(used=pairings(daytime=0, overnight=0), for_school=True).withheld == ()
    late = card(for_school=True, now_utc=card().made_at_utc + timedelta(days=40))
    assert late.withheld == ()
    doubted = card(for_school=True, in_doubt=("weight_doubted",))
    assert doubted.withheld == ("weight_doubted",)
    odd = person(replace(PLAN, below_54_grams=4))
    assert card(who=odd, for_school=True).withheld == ("plan_less_below_54",)


def test_a_card_ends_with_the_plan_the_school_year_or_the_kit_whichever_comes_first():
    three_months = months_later(TODAY, 3)
    assert card(for_school=True).valid_until == three_months
    assert card(who=school(year_until=date(2026, 12, 20)), for_school=True).valid_until == date(2026, 12, 20)
    assert card(who=school(kit_expires_on=date(2026, 12, 19)), for_school=True).valid_until == date(2026, 12, 19)
    ending = person(replace(PLAN, valid_until=date(2026, 12, 18)))
    assert card(who=ending, for_school=True).valid_until == date(2026, 12, 18)
    assert card(who=ending).valid_until == date(2026, 12, 18)


def test_a_change_of_staff_or_kit_ends_the_schools_card_and_no_other():
    changed = person(replace(PLAN, school=replace(SCHOOL, staff=("Ms. New",))), sources=always((SMALL_PIECES, WHOLE)))
    now = card().made_at_utc + timedelta(days=1)
    assert [reason.code for reason in void_reasons(card(for_school=True), changed, now)] == ["school"]
    assert void_reasons(card(), changed, now) == ()
