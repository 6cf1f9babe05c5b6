"""When a band's amounts are the person's own, when from the table, and when there are none."""

from dataclasses import replace
from datetime import date, timedelta

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
    reasons,
)  # fmt: skip

from gramrise.domain.person import CarePlan, Dated
from gramrise.domain.problems import WrongUse
from gramrise.domain.words import Delivery
from gramrise.report.card.facts import months_later, whole_years
from gramrise.report.card.view import BandView, CellView


def test_eight_measured_treatments_and_more_give_the_persons_own_amounts():
    view = card()
    assert [(band.state, band.factor_mg_dl_per_g) for band in view.bands] == [("own", 9.0), ("own", 6.5)]


def test_what_was_measured_a_year_ago_is_no_longer_printed_as_the_persons_own():
    old = card(used=pairings(days_ago=365))
    assert [band.state for band in old.bands] == ["thin", "thin"]


def test_seven_treatments_in_the_last_120_days_are_one_too_few():
    assert [band.state for band in card(used=pairings(daytime=8, overnight=7)).bands] == ["own", "thin"]


def test_treatments_that_were_set_aside_make_no_band_the_persons_own():
    import polars as pl

    set_aside = pairings().with_columns(verdict=pl.lit("set_aside"))
    assert {band.state for band in card(used=set_aside).bands} == {"thin"}


def test_an_old_weighing_makes_a_child_thin_and_leaves_a_grown_up_as_they_are():
    weighed = Dated(((TODAY - timedelta(days=120), 60.0),))
    child, grown_up = person(weights_kg=weighed), person(weights_kg=weighed, born=date(1990, 1, 1))
    assert {band.state for band in card(who=child).bands} == {"thin"}
    assert {band.state for band in card(who=grown_up).bands} == {"own"}


def test_the_factor_follows_the_weight_from_the_night_of_the_findings_to_the_day_of_the_card():
    view = card(who=person(weights_kg=Dated(((TODAY, 36.0),))))
    assert view.weight_kg == 36.0
    assert [band.factor_mg_dl_per_g for band in view.bands] == pytest.approx([9.0 * 32 / 36, 6.5 * 32 / 36])


def test_a_thin_band_takes_its_amount_from_the_trials_table_whatever_was_measured_so_far():
    view = card(found=factors(state="thin", daytime=30.0))
    assert [band.factor_mg_dl_per_g for band in view.bands] == [245 / 32, 245 / 32]
    assert amounts(view, "daytime") == amounts(view, "overnight")


def test_no_data_at_all_is_a_thin_band_from_the_last_weighing():
    view = card(found=factors().clear())
    assert {band.state for band in view.bands} == {"thin"}
    assert view.weight_kg == 32.0


def test_no_data_and_no_weight_is_withheld():
    view = card(found=factors().clear(), who=person(weights_kg=Dated()))
    assert reasons(view) == {"weight_unknown"}
    assert not view.has_amounts
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
    view = card(source, who=person(born=born), found=factors(weight_kg=13.0))
    assert reasons(view) == {expected}


def test_pieces_of_which_nobody_said_what_they_are_count_as_tablets_for_a_small_child():
    from gramrise.domain.sources import Form, Source

    small = person(born=date(2023, 10, 1))
    assert reasons(card(Source("bits", Form.UNKNOWN, grams_per_piece=1.0), small)) == {"no_pieces_under_4"}
    assert card(Source("syrup", Form.UNKNOWN, grams_per_ml=0.3), small).has_amounts


def test_a_band_whose_numbers_are_missing_is_not_the_persons_own():
    import polars as pl

    found = factors().with_columns(sd_log=pl.lit(None, pl.Float64))
    assert {band.state for band in card(found=found).bands} == {"thin"}


def test_on_the_fourth_birthday_pieces_are_allowed():
    assert card(who=person(born=date(2022, 11, 24))).has_amounts


def test_a_three_year_old_gets_liquid_and_the_plans_amount_is_not_counted_in_pieces():
    child = person(born=date(2023, 10, 1), weights_kg=Dated(((TODAY, 14.5),)))
    found = factors(weight_kg=14.5, daytime=20.0, overnight=17.0)
    assert card(LIQUID, child, found).has_amounts
    pieces = card(SMALL_PIECES, child, found)
    assert pieces.plan.below_54_amount is None
    assert pieces.finer_source == "night bottle"


def test_a_source_nobody_knows_the_strength_of_gives_no_amount():
    view = card("sweets from the drawer")
    assert reasons(view) == {"strength_unknown"}
    assert view.source.glucose_per_unit_g is None


def test_automated_delivery_is_withheld_unless_the_care_plan_names_the_card():
    automated = person(delivery=always(Delivery.AUTOMATED))
    assert reasons(card(who=automated)) == {"automated"}
    named = person(replace(PLAN, card_with_automated=True), delivery=always(Delivery.AUTOMATED))
    view = card(who=named)
    assert view.has_amounts
    assert "automated" in view.cautions
    assert "automated" not in view.not_for


def test_delivery_that_changed_a_week_ago_is_withheld_and_after_two_weeks_no_longer():
    changed = [
        person(delivery=Dated(((date(2020, 1, 1), Delivery.INJECTIONS), (TODAY - timedelta(days), Delivery.PUMP))))
        for days in (0, 13, 14)
    ]
    assert [card(who=who).has_amounts for who in changed] == [False, False, True]


def test_delivery_that_was_only_written_down_a_week_ago_has_not_changed():
    assert card(who=person(delivery=Dated(((TODAY - timedelta(7), Delivery.PUMP),)))).has_amounts


def test_what_the_estimate_withholds_the_card_withholds():
    view = card(found=factors(state="withheld"))
    assert reasons(view) == {"estimate"}


def test_the_newest_of_several_findings_counts():
    old = factors(daytime=3.0).with_columns(as_of_utc=factors()["as_of_utc"] - timedelta(days=7))
    import polars as pl

    assert card(found=pl.concat([factors(), old])).bands[0].factor_mg_dl_per_g == 9.0


def test_below_54_is_the_care_plans_amount_and_changes_with_nothing_else():
    views = [card(found=found) for found in (factors(), factors(daytime=3.0), factors(state="thin"))]
    assert {view.plan.below_54_grams for view in views} == {10}
    assert {view.plan.below_54_amount for view in views} == {11}  # 10.1 g in pieces of 0.92 g
    assert card(who=person(CarePlan())).plan.below_54_grams is None


def test_the_plans_ten_grams_are_not_counted_in_pieces_of_four():
    assert card(BIG_PIECES).plan.below_54_amount is None  # 2 pieces are a fifth too little, 3 a fifth too much


def test_a_card_for_the_school_is_refused_for_a_bottle_mixed_at_home():
    with pytest.raises(WrongUse, match="sealed"):
        card(LIQUID, for_school=True)
    with pytest.raises(WrongUse, match="sealed"):
        card("sweets from the drawer", for_school=True)


def test_a_cell_cannot_hold_both_an_amount_and_a_reason():
    with pytest.raises(ValidationError, match="a withheld cell holds a reason and no numbers"):
        CellView(band="daytime", state="withheld", reason="estimate", amount=3)
    with pytest.raises(ValidationError, match="holds an amount and what to expect"):
        CellView(band="daytime", state="own")
    with pytest.raises(ValidationError, match="withheld exactly where it has reasons"):
        BandView(name="a", hours="", state="own", reasons=("x",), factor_mg_dl_per_g=1.0, treatments_n=0)


def test_the_card_is_dated_on_the_persons_own_clock():
    from zoneinfo import ZoneInfo

    late = NOW.replace(hour=11, minute=30)
    far_east, far_west = (person(zone=always(ZoneInfo(z))) for z in ("Pacific/Kiritimati", "Pacific/Pago_Pago"))
    assert card(who=far_east, now_utc=late).made_on == date(2026, 11, 25)
    assert card(who=far_west, now_utc=NOW.replace(hour=10)).made_on == date(2026, 11, 23)


def test_three_months_after_30_november_is_the_last_of_february():
    assert months_later(date(2026, 11, 30), 3) == date(2027, 2, 28)
    assert months_later(date(2026, 10, 5), 3) == date(2027, 1, 5)
    assert months_later(date(2026, 9, 30), 3) == date(2026, 12, 30)


def test_a_child_born_on_29_february_has_its_birthday_on_1_march():
    assert [whole_years(date(2024, 2, 29), day) for day in (date(2026, 2, 28), date(2026, 3, 1))] == [1, 2]


def test_the_view_survives_being_kept_as_json():
    from gramrise.report.card import CardView

    view = card()
    assert CardView.model_validate_json(view.model_dump_json()) == view
