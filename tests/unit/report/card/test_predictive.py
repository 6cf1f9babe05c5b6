"""The level after a first amount, where it can be said by hand; and bounds of the card at which something changes."""

from dataclasses import replace
from datetime import date

import pytest
from support.card_people import BIG_PIECES, LIQUID, PLAN, SMALL_PIECES, TODAY, always, card, factors, person

from gramrise.domain.care_plan import CarePlan, contradictions
from gramrise.domain.person import Dated
from gramrise.domain.sources import AmountUnit, Form, Source, StatedAs
from gramrise.domain.words import Delivery
from gramrise.report.card.numbers.amounts import Cap, Step, amount_of, wanted_grams
from gramrise.report.card.numbers.predictive import Doubt, Predictive
from gramrise.report.card.numbers.response import Response
from gramrise.report.card.pages.face import face_of
from gramrise.report.card.pages.page import card_text
from gramrise.report.card.settings import SHIPPED_SETTINGS

SURE = Doubt(
    factor_mg_dl_per_g=5.0,
    sd_log=1e-9,
    event_sd_log=1e-9,
    event_degrees_of_freedom=8.0,
    reading_error_sd_mg_dl=3.0,
    drift_sd_mg_dl=4.0,
    drift_minutes=30.0,
)
AT_ONCE = Response(shares=tuple(1.0 for _ in range(121)), reference_grams=5.0, exponent=1.0)


@pytest.mark.parametrize(("minutes", "sd"), [(30.0, 5.0), (120.0, (9 + 64) ** 0.5), (0.0, 3.0)])
def test_wander_grows_with_the_root_of_time(minutes, sd):
    assert SURE.normal_sd_mg_dl(minutes) == pytest.approx(sd)


def test_from_one_level_alone_the_quantiles_are_those_of_a_normal_about_start_and_rise():
    level = Predictive(60.0, 60.0, SURE, AT_ONCE)
    # 5 mg/dL per g, 4 g, sd 5 after 30 minutes; one sd above the middle lie 84.1345 % (a normal table).
    assert level.quantile(0.5, 4.0, 30) == pytest.approx(80.0, abs=1e-3)
    assert level.quantile(0.841345, 4.0, 30) == pytest.approx(85.0, abs=1e-3)
    assert level.chance_below(75.0, 4.0, 30) == pytest.approx(0.158655, abs=1e-5)


def test_what_the_cap_leaves_of_a_liquid_stands_where_the_plan_orders_less():
    five_ml = SHIPPED_SETTINGS.model_copy(update={"liquid_step_ml": 5})
    for settings, grams in ((SHIPPED_SETTINGS, 9.5), (five_ml, 8.75)):
        who = person(replace(PLAN, standard_grams=6.0))
        view = card(LIQUID, who, factors(daytime=3.0, overnight=3.0), settings=settings)
        assert {(cell.state, cell.grams) for row in view.rows for cell in row.cells} == {("own", grams)}


@pytest.mark.parametrize(("born", "told"), [(date(2021, 11, 24), False), (date(2021, 11, 25), True)])
def test_from_the_birthday_on_hard_sweets_are_not_warned_of(born, told):
    view = card(SMALL_PIECES, person(born=born))
    assert view.rules.hard_sweets_from_years == 5
    assert ("hard sweets" in card_text(view).lower()) is told


def test_body_weight_is_printed_to_a_tenth():
    view = card(SMALL_PIECES, person(weights_kg=Dated(((TODAY, 32.04),))))
    text = " ".join(card_text(view).split())
    assert "(now 32.0)" in text
    assert "32.04" not in text


@pytest.mark.parametrize(("grams", "asked"), [(20.0, ()), (20.5, ("plan_far_from_weight",))])
def test_more_than_a_gram_per_kg_is_no_plan(grams, asked):
    assert contradictions(CarePlan(standard_grams=grams), 20.0) == asked


def test_the_first_of_several_reasons_is_told_and_the_day_of_an_old_weighing():
    view = card(SMALL_PIECES, person())
    band = view.bands[0].model_copy(update={"state": "withheld", "reasons": ("weighing_old", "weight_doubted")})
    face = face_of(view.model_copy(update={"bands": (band, *view.bands[1:]), "weighed_on": date(2026, 5, 4)}))
    assert face.pages[0].bands[0].instead.startswith("The last weighing is of 4 May 2026")


@pytest.mark.parametrize(
    ("delivery", "automated_grams", "covered"),
    [(Delivery.AUTOMATED, 6, True), (Delivery.AUTOMATED, None, False), (Delivery.PUMP, 6, False)],
)
def test_an_automated_system_is_covered_only_where_it_runs_and_the_plan_names_its_grams(
    delivery, automated_grams, covered
):
    view = card(SMALL_PIECES, person(replace(PLAN, automated_grams=automated_grams), delivery=always(delivery)))
    assert ("automated" not in view.not_for) is covered


@pytest.mark.parametrize(("cap", "pieces"), [(10.0, 4), (9.99, 3)])
def test_as_many_pieces_as_just_fill_the_cap_are_within_it(cap, pieces):
    step = Step(AmountUnit.PIECE, 1, 2.5)
    assert amount_of(None, Cap(cap, "ten"), step, SHIPPED_SETTINGS).units == pieces


def test_less_than_a_gram_can_be_wanted():
    sure = replace(SURE, factor_mg_dl_per_g=100.0, reading_error_sd_mg_dl=0.0, drift_sd_mg_dl=0.0)
    level = Predictive(57.0, 57.0, sure, AT_ONCE)
    assert wanted_grams(level, 100.0, Cap(10.0, "ten"), SHIPPED_SETTINGS) == pytest.approx(0.43, abs=1e-3)


def test_the_plan_stands_where_its_grams_are_just_the_most_that_it_allows():
    pieces = Source("candy", Form.TABLET, 5.0, stated_as=StatedAs.ANHYDROUS)
    plan = replace(PLAN, standard_grams=10, most_grams=10.0)
    view = card(pieces, person(plan, sources=always((pieces,))), factors(daytime=3.0, overnight=3.0))
    assert {cell.grams for row in view.rows[:1] for cell in row.cells} == {10.0}


def test_the_latest_weighing_is_told_with_its_day():
    weighed = Dated(((date(2026, 1, 5), 30.0), (TODAY, 32.0)))
    view = card(SMALL_PIECES, person(weights_kg=weighed))
    assert (view.weighed_on, view.weighed_kg) == (TODAY, 32.0)


def test_a_cell_without_an_amount_tells_the_first_of_its_reasons():
    view = card(BIG_PIECES, person(weights_kg=Dated(((date(2025, 1, 1), 30.0),))))
    assert view.bands[0].reasons[:2] == ("weighing_old", "findings_old")
    assert {cell.reason for row in view.rows for cell in row.cells} == {"weighing_old"}
