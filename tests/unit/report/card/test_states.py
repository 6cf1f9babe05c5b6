"""When a band's amounts are the person's own, when the plan's, and when there is no card."""

from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from pydantic import ValidationError
from support.card_people import (
    BIG_PIECES,
    LIQUID,
    NOW,
    PLAN,
    SMALL_PIECES,
    TODAY,
    always,
    amounts,
    card,
    factors,
    pairings,
    person,
    predictions,
    reasons,
)  # fmt: skip

from gramrise.domain.care_plan import CarePlan, contradictions, last_day_of, valid_until_at_most
from gramrise.domain.dates import months_later, whole_years
from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.frames import READINGS
from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Form, Source
from gramrise.domain.words import Delivery
from gramrise.report.card import CardView, card_view
from gramrise.report.card.numbers.build import less_below_54
from gramrise.report.card.numbers.facts import plan_on
from gramrise.report.card.numbers.states import may_be_swallowed
from gramrise.report.card.numbers.view import AmountView, BandView, CellView, PlanView, RowView
from gramrise.report.card.pages.page import card_pdf
from gramrise.report.card.settings import SHIPPED_SETTINGS


def lacks(view):
    return [[(lack.code, lack.count) for lack in band.lacks] for band in view.bands]


def test_eight_measured_treatments_and_more_give_the_persons_own_amounts():
    view = card()
    assert view.withheld == ()
    assert [(band.state, band.factor_mg_dl_per_g) for band in view.bands] == [("own", 9.0), ("own", 6.5)]


def test_the_card_rests_on_the_very_number_of_screen_and_report_and_on_no_third():
    for state in ("own", "thin"):
        found = factors(state=state, daytime=10.1, overnight=3.6)
        few = pairings(daytime=0, overnight=0) if state == "thin" else pairings()
        view = card(found=found, used=few)
        assert [band.factor_mg_dl_per_g for band in view.bands] == found["factor_mg_dl_per_g"].to_list()


WITH_EARLY = replace(PLAN, early_grams=4)


def test_grams_that_the_plan_names_for_a_falling_level_stand_in_its_row_whatever_was_measured():
    """The row holds only as the plan says: 'according to the plan' never stands beside another amount than its own."""
    view, free = card(who=person(WITH_EARLY)), card()
    assert {band.state for band in view.bands} == {"own"}
    assert {(cell.state, cell.grams) for cell in view.rows[-1].cells} == {("thin", 4)}
    assert {cell.state for cell in free.rows[-1].cells} == {"own"}
    assert [row.cells for row in view.rows[:-1]] == [row.cells for row in free.rows[:-1]]


def test_a_band_not_yet_the_persons_own_gets_the_plans_standard_grams_whatever_was_measured_so_far():
    few = pairings(daytime=5, overnight=7)
    for daytime in (3.0, 9.0, 30.0):
        view = card(who=person(WITH_EARLY), found=factors(daytime=daytime), used=few)
        assert [band.state for band in view.bands] == ["thin", "thin"]
        assert amounts(view) == [11, 11, 4]  # 10 g, 10 g and early 4 g in pieces of 0.92 g
        assert {cell.grams for row in view.rows[:2] for cell in row.cells} == {10}
        assert {cell.expect_low_mg_dl for row in view.rows for cell in row.cells} == {None}


def test_a_thin_band_says_exactly_what_it_lacks():
    assert lacks(card(used=pairings(daytime=5, overnight=14))) == [[("treatments", 3)], []]
    assert lacks(card(used=pairings(daytime=0))) == [[("treatments", 8), ("predictions", 0)], []]
    wide = factors().with_columns(p95_factor_mg_dl_per_g=pl.col("p05_factor_mg_dl_per_g") * 1.81)
    assert lacks(card(found=wide)) == [[("interval", 0)]] * 2
    missed = predictions(pairings(), inside=False)
    assert lacks(card(foretold=missed)) == [[("foretold_badly", 0)]] * 2


def test_a_card_never_calls_ones_own_what_the_findings_did_not():
    assert lacks(card(found=factors(state="thin"))) == [[("new_findings", 0)]] * 2


def test_without_standard_grams_a_thin_band_has_no_amount():
    bare = replace(PLAN, standard_grams=None, early_grams=None)
    view = card(who=person(bare), used=pairings(daytime=5, overnight=5))
    assert reasons(view) == {"no_plan_amount"}
    assert not view.has_amounts
    assert view.withheld == ()  # the plan's grams below 54 still stand on it


def test_the_plans_grams_that_no_whole_pieces_come_near_stand_in_grams():
    view = card(BIG_PIECES, who=person(WITH_EARLY), used=pairings(daytime=5, overnight=5))
    assert amounts(view) == [None, None, 1]
    assert [row.cells[0].grams for row in view.rows] == [10, 10, 4]


def test_what_was_measured_a_year_ago_is_no_longer_printed_as_the_persons_own():
    old = card(used=pairings(days_ago=365))
    assert [band.state for band in old.bands] == ["thin", "thin"]


def test_seven_treatments_in_the_last_120_days_are_one_too_few():
    assert [band.state for band in card(used=pairings(daytime=8, overnight=7)).bands] == ["own", "thin"]


def test_treatments_that_were_set_aside_make_no_band_the_persons_own():
    set_aside = pairings().with_columns(verdict=pl.lit("set_aside"))
    assert {band.state for band in card(used=set_aside).bands} == {"thin"}


@pytest.mark.parametrize(
    ("born", "days", "withheld"),
    [
        (date(2016, 3, 1), 119, ()),
        (date(2016, 3, 1), 120, ("weighing_old",)),  # four months under 18
        (date(2021, 3, 1), 59, ()),
        (date(2021, 3, 1), 60, ("weighing_old",)),  # two months under 6
        (date(1990, 1, 1), 1000, ()),
    ],
)
def test_an_old_weighing_withholds_a_childs_card_and_leaves_a_grown_up_as_they_are(born, days, withheld):
    who = person(weights_kg=Dated(((TODAY - timedelta(days=days), 32.0),)), born=born)
    assert card(who=who, found=factors(weight_kg=None)).withheld == withheld


def test_the_weighing_and_its_date_stand_on_the_card_not_a_weight_worked_out_from_it():
    on = TODAY - timedelta(days=80)
    view = card(who=person(weights_kg=Dated(((on, 31.0),)), sex="boy"))
    assert (view.weighed_on, view.weighed_kg) == (on, 31.0)
    assert view.weight_kg > 31.0  # carried along growth, for the caps


def test_a_weighing_of_tomorrow_is_no_weighing_yet():
    assert card(who=person(weights_kg=Dated(((TODAY + timedelta(days=1), 32.0),)))).withheld == ("weight_unknown",)


def test_findings_of_more_than_two_weeks_ago_or_of_another_weight_make_no_card():
    assert card(now_utc=NOW + timedelta(days=14)).withheld == ()
    assert card(now_utc=NOW + timedelta(days=14, seconds=1)).withheld == ("findings_old",)
    assert card(who=person(weights_kg=Dated(((TODAY, 36.0),)))).withheld == ("findings_old",)
    assert card(who=person(weights_kg=Dated(((TODAY, 33.0),)))).withheld == ()


def test_findings_of_tonight_that_rest_on_readings_of_three_weeks_ago_make_no_card():
    def withheld(last):
        row = {"person_id": "mira", "at_utc": last, "glucose_mg_dl": 90.0, "range": "in"}
        found = Findings(NOW, factors=factors(), pairings=pairings(), predictions=predictions(pairings()))
        readings = READINGS.check(pl.DataFrame([row], schema=READINGS.schema))
        return card_view(Inputs(person(), readings), found, SMALL_PIECES, now_utc=NOW, number=1).withheld

    assert withheld(NOW - timedelta(days=14)) == ()
    assert withheld(NOW - timedelta(days=15)) == ("findings_old",)


def test_a_doubted_weight_or_strength_withholds_the_card_until_it_is_answered():
    for code in ("weight_doubted", "strength_doubted"):
        view = card(in_doubt=(code,))
        assert view.withheld == (code,)
        assert not view.has_amounts


def test_a_card_that_is_withheld_cannot_be_printed():
    with pytest.raises(WrongUse, match="withheld is not printed"):
        card_pdf(card(in_doubt=("weight_doubted",)))


@pytest.mark.parametrize(
    ("plan", "withheld"),
    [
        (CarePlan(), "plan_missing"),
        (replace(PLAN, below_54_grams=None), "plan_missing"),
        (replace(PLAN, look_again_minutes=None), "plan_no_second_look"),
        (replace(PLAN, second_grams=None), "plan_no_second_look"),
        (replace(PLAN, valid_until=TODAY - timedelta(days=1)), "plan_expired"),
        (replace(PLAN, approved_on=date(2026, 5, 23)), "plan_expired"),  # six months and a day
        (replace(PLAN, approved_on=date(2026, 8, 23), in_puberty=True), "plan_expired"),
        (replace(PLAN, below_54_grams=4), "plan_less_below_54"),
        (replace(PLAN, standard_grams=10.1), "plan_less_below_54"),
        (replace(PLAN, automated_grams=11), "plan_less_below_54"),
        (replace(PLAN, least_grams=9, most_grams=8, standard_grams=8), "plan_limits_crossed"),
        (replace(PLAN, most_grams=9.9), "plan_limits_crossed"),
        (replace(PLAN, most_grams=10, second_grams=10.1), "plan_limits_crossed"),
        (replace(PLAN, least_grams=10.1, below_54_grams=12), "plan_limits_crossed"),
    ],
)
def test_there_is_no_card_without_a_plan_that_is_whole_valid_and_free_of_contradiction(plan, withheld):
    view = card(who=person(plan))
    assert view.withheld == (withheld,)
    assert not view.has_amounts


def test_a_plan_whose_amounts_lie_on_its_own_limits_is_free_of_contradiction():
    view = card(who=person(replace(PLAN, least_grams=10, most_grams=10)))
    assert view.withheld == ()


def test_a_band_of_which_nothing_was_found_rests_on_no_treatment():
    found = factors()
    view = card(found=found.filter(found["band"] == "daytime"))
    assert [band.treatments_n for band in view.bands] == [21, 0]


def test_a_person_without_any_plan_gets_no_card():
    assert card(who=person(care_plan=Dated())).withheld == ("plan_missing",)


def test_the_last_day_of_a_plan_is_still_a_day_of_the_plan():
    assert card(who=person(replace(PLAN, valid_until=TODAY))).withheld == ()
    assert card(who=person(replace(PLAN, approved_on=date(2026, 5, 24)))).withheld == ()
    assert card(who=person(replace(PLAN, approved_on=date(2026, 8, 24), in_puberty=True))).withheld == ()


def test_a_plan_written_down_today_holds_today_and_its_last_day_is_printed():
    view = card(who=person(care_plan=Dated(((TODAY, PLAN),))))
    assert view.withheld == ()
    assert view.plan.valid_until == date(2027, 3, 1)


def test_a_plan_holds_six_months_and_three_in_puberty_or_under_six_years():
    born, approved = date(2016, 3, 1), date(2026, 3, 1)
    assert valid_until_at_most(born, False, approved) == date(2026, 9, 1)
    assert valid_until_at_most(born, True, approved) == date(2026, 6, 1)
    assert valid_until_at_most(date(2020, 3, 2), False, approved) == date(2026, 6, 1)  # six tomorrow
    assert valid_until_at_most(date(2020, 3, 1), False, approved) == date(2026, 9, 1)
    late = replace(PLAN, approved_on=approved, valid_until=date(2027, 1, 1))
    assert last_day_of(late, born, approved) == date(2026, 9, 1)
    assert last_day_of(replace(PLAN, approved_on=None), born, date(2026, 4, 1)) == date(2026, 10, 1)


def test_a_computed_amount_above_the_plans_grams_below_54_withholds_the_card():
    own = replace(PLAN, standard_grams=6, below_54_grams=7)
    assert card(who=person(own)).withheld == ("plan_less_below_54",)  # 54-61 would get 7.36 g by day
    fitting = replace(PLAN, standard_grams=6, below_54_grams=9.2)
    assert card(who=person(fitting)).withheld == ()


def test_no_data_at_all_is_a_thin_band_from_the_last_weighing():
    nothing = pairings(daytime=0, overnight=0)
    view = card(found=factors().clear(), used=nothing)
    assert {band.state for band in view.bands} == {"thin"}
    assert [band.factor_mg_dl_per_g for band in view.bands] == [None, None]
    assert view.weight_kg == 32.0


def test_no_data_and_no_weight_is_withheld():
    view = card(found=factors().clear(), who=person(weights_kg=Dated()))
    assert view.withheld == ("weight_unknown",)
    assert view.cap is None


@pytest.mark.parametrize(
    ("born", "source", "expected"),
    [
        (date(2024, 11, 25), LIQUID, "under_2"),  # two years old tomorrow
        (date(2022, 11, 25), SMALL_PIECES, "no_pieces_under_4"),  # four years old tomorrow
        (date(2023, 10, 1), BIG_PIECES, "no_pieces_under_4"),
    ],
)
def test_young_children_get_no_pieces_and_the_youngest_nothing(born, source, expected):
    small = replace(
        PLAN, approved_on=date(2026, 11, 1), standard_grams=4, below_54_grams=4, second_grams=4, least_grams=2
    )
    who = person(small, born=born, weights_kg=Dated(((TODAY, 13.0),)))
    assert card(source, who, factors(weight_kg=13.0)).withheld == (expected,)


def small_child(born):
    return person(replace(PLAN, approved_on=date(2026, 11, 1)), born=born)


def test_pieces_of_which_nobody_said_what_they_are_may_be_hard_sweets_which_begin_at_five():
    bits = Source("bits", Form.UNKNOWN, grams_per_piece=1.0)
    assert card(bits, small_child(date(2023, 10, 1))).withheld == ("no_pieces_under_4",)
    assert card(bits, small_child(date(2021, 11, 25))).withheld == ("unknown_pieces_under_5",)
    assert card(bits, small_child(date(2021, 11, 24))).withheld == ()
    assert card(Source("syrup", Form.UNKNOWN, grams_per_ml=0.3), small_child(date(2023, 10, 1))).withheld == ()


def test_on_the_second_and_fourth_birthday_the_next_step_is_allowed():
    assert card(LIQUID, small_child(date(2024, 11, 24))).withheld == ()
    assert card(who=small_child(date(2022, 11, 24))).withheld == ()


def test_a_source_nobody_knows_the_strength_of_makes_no_card():
    view = card("sweets from the drawer")
    assert view.withheld == ("strength_unknown",)
    assert view.source.glucose_per_unit_g is None


def test_automated_delivery_gets_the_plans_own_grams_for_it_or_no_card():
    automated = always(Delivery.AUTOMATED)
    assert card(who=person(delivery=automated)).withheld == ("automated",)
    view = card(who=person(replace(WITH_EARLY, automated_grams=5.5), delivery=automated))
    assert view.withheld == ()
    assert amounts(view) == [6, 6, 4]
    assert {band.state for band in view.bands} == {"thin"}
    assert "automated" in view.cautions
    assert "automated" not in view.not_for
    assert "automated" in card().not_for


def test_delivery_that_changed_a_week_ago_is_withheld_and_after_two_weeks_no_longer():
    changed = [
        person(delivery=Dated(((date(2020, 1, 1), Delivery.INJECTIONS), (TODAY - timedelta(days), Delivery.PUMP))))
        for days in (0, 13, 14)
    ]
    assert [card(who=who).withheld for who in changed] == [("delivery_changed",)] * 2 + [()]


def test_delivery_that_was_only_written_down_a_week_ago_has_not_changed():
    assert card(who=person(delivery=Dated(((TODAY - timedelta(7), Delivery.PUMP),)))).has_amounts


def test_what_the_estimate_withholds_the_card_withholds():
    view = card(found=factors(state="withheld"))
    assert reasons(view) == {"estimate"}


def test_the_newest_of_several_findings_counts():
    old = factors(daytime=3.0).with_columns(as_of_utc=factors()["as_of_utc"] - timedelta(days=7))
    assert card(found=pl.concat([factors(), old])).bands[0].factor_mg_dl_per_g == 9.0


def test_below_54_is_the_care_plans_amount_and_changes_with_nothing_else():
    views = [card(found=found) for found in (factors(), factors(daytime=6.0), factors(state="thin"))]
    assert {(view.plan.below_54.grams, view.plan.below_54.units) for view in views} == {(10, 11)}  # 10.1 g


def test_a_plan_whose_approval_is_not_dated_holds_for_six_months_from_its_own_latest_version():
    undated = replace(PLAN, approved_on=None)
    who = person(care_plan=Dated(((date(2026, 1, 10), undated), (date(2026, 11, 2), replace(undated, early_grams=5)))))
    assert plan_on(who, TODAY, SMALL_PIECES, SHIPPED_SETTINGS).valid_until == date(2027, 5, 2)


def test_the_plans_ten_grams_are_not_counted_in_pieces_of_four():
    # 2 pieces are a fifth too little, 3 a fifth too much
    assert card(BIG_PIECES).plan.below_54.units is None


def test_the_plans_grams_are_counted_where_whole_pieces_come_within_a_tenth():
    def units(grams, piece):
        source = Source("tin", Form.TABLET, grams_per_piece=piece)
        return card(source, person(replace(PLAN, below_54_grams=grams))).plan.below_54.units

    assert [units(10, 9.0), units(10, 11.0), units(10, 8.99), units(10, 11.01)] == [1, 1, None, None]


def test_a_cell_cannot_hold_both_an_amount_and_a_reason():
    with pytest.raises(ValidationError, match="a withheld cell holds a reason and no numbers"):
        CellView(band="daytime", state="withheld", reason="estimate", amount=3)
    with pytest.raises(ValidationError, match="of the person's own holds an amount"):
        CellView(band="daytime", state="own")
    with pytest.raises(ValidationError, match="withheld exactly where it has reasons"):
        BandView(name="a", hours="", state="own", reasons=("x",), factor_mg_dl_per_g=1.0, treatments_n=0)


def test_the_card_is_dated_on_the_persons_own_clock():
    late = NOW.replace(hour=11, minute=30)
    far_east, far_west = (person(zone=always(ZoneInfo(z))) for z in ("Pacific/Kiritimati", "Pacific/Pago_Pago"))
    assert card(who=far_east, now_utc=late).made_on == date(2026, 11, 25)
    assert card(who=far_west, now_utc=NOW.replace(hour=10)).made_on == date(2026, 11, 23)


def test_three_months_after_30_november_is_the_last_of_february():
    assert months_later(date(2026, 11, 30), 3) == date(2027, 2, 28)
    assert months_later(date(2026, 10, 5), 3) == date(2027, 1, 5)
    assert months_later(date(2026, 9, 30), 3) == date(2026, 12, 30)
    assert months_later(date(2026, 8, 31), 3) == date(2026, 11, 30)
    assert months_later(date(2026, 9, 30), 15) == date(2027, 12, 30)
    assert months_later(date(2026, 10, 31), 2) == date(2026, 12, 31)


def test_a_child_born_on_29_february_has_its_birthday_on_1_march():
    assert [whole_years(date(2024, 2, 29), day) for day in (date(2026, 2, 28), date(2026, 3, 1))] == [1, 2]


def test_the_view_survives_being_kept_as_json():
    view = card()
    assert CardView.model_validate_json(view.model_dump_json()) == view


@pytest.mark.parametrize(
    ("source", "years", "allowed"),
    [(SMALL_PIECES, 3, False), (SMALL_PIECES, 4, True), (LIQUID, 1, True), (None, 9, False)],
)
def test_pieces_are_not_for_the_very_young_and_liquid_is_for_all(source, years, allowed):
    assert may_be_swallowed(source, years, SHIPPED_SETTINGS) is allowed


@pytest.mark.parametrize(("grams", "is_more"), [(None, False), (0.4, False), (0.6, True)])
def test_a_cell_without_an_amount_gives_no_more_than_the_plan_below_54(grams, is_more):
    plan = PlanView.model_construct(below_54=AmountView(grams=0.5, units=None))
    reason = "plan_missing" if grams is None else ""
    cell = CellView(band="day", state="thin" if grams else "withheld", reason=reason, grams=grams)
    row = RowView(shown_from=54, shown_to=69, early=False, cells=(cell,))
    assert less_below_54(plan, (row,), None) is is_more


@pytest.mark.parametrize(
    ("grams", "kg", "far"),
    [(2.9, 40.0, True), (3.0, 40.0, False), (3.74, 50.0, True), (3.76, 50.0, False), (3.76, 90.0, False)],
)
def test_a_plan_below_a_quarter_of_the_guideline_is_asked_about_up_to_fifty_kg(grams, kg, far):
    plan = CarePlan(standard_grams=grams, below_54_grams=grams)
    assert ("plan_far_from_weight" in contradictions(plan, kg)) is far
