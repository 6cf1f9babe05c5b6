"""The amount of a cell: worked by hand where doubt is none, then the rules about whole pieces and caps."""

from dataclasses import replace
from itertools import pairwise

import pytest
from support import card_people
from support.card_people import BIG_PIECES, LIQUID, PLAN, SMALL_PIECES, always, amounts, card, factors, person, reasons

from gramrise.domain.person import Dated
from gramrise.domain.sources import AmountUnit, Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.report.card.numbers.amounts import Cap, Step, amount_of, cap_of, wanted_grams
from gramrise.report.card.numbers.predictive import Doubt, Fall, Predictive
from gramrise.report.card.numbers.response import Response
from gramrise.report.card.settings import SHIPPED_SETTINGS

NO_DOUBT = Doubt(7.0, 0.0, 0.0, 5.0, 0.0, 0.0, 40.0)
# A rise that shows wholly from minute 25 on and keeps; 4.8 g are the reference amount of 32 kg.
AT_ONCE = Response(tuple(min(1.0, m / 25) for m in range(91)), 4.8, 1.0)


def test_without_doubt_57_at_7_mg_dl_per_g_needs_43_over_7_grams_to_reach_100():
    level = Predictive(57.0, 57.0, NO_DOUBT, AT_ONCE)
    assert wanted_grams(level, 100.0, Cap(20.0, "twenty"), SHIPPED_SETTINGS) == pytest.approx(43 / 7, abs=1e-4)


def test_a_level_of_70_without_doubt_is_not_below_70():
    level = Predictive(70.0, 70.0, NO_DOUBT, AT_ONCE)
    assert [level.chance_below(limit, 0.0, 15.0) for limit in (70.0, 70.1)] == pytest.approx([0.0, 1.0])


def test_where_the_level_is_at_the_target_and_safe_already_no_grams_are_wanted():
    level = Predictive(110.0, 110.0, NO_DOUBT, AT_ONCE)
    assert wanted_grams(level, 100.0, Cap(20.0, "twenty"), SHIPPED_SETTINGS) == 0.0


def test_without_doubt_15_minutes_show_three_fifths_of_a_rise_that_takes_25():
    level = Predictive(57.0, 57.0, NO_DOUBT, AT_ONCE)
    assert level.quantile(0.5, 6.0, 15.0) == pytest.approx(57 + 42 * 15 / 25, abs=1e-3)


def test_the_chance_to_stay_below_70_raises_the_amount_where_treatments_scatter():
    calm = Predictive(54.0, 59.0, Doubt(7.0, 0.05, 0.1, 5.0, 2.0, 2.0, 40.0), AT_ONCE)
    wild = Predictive(54.0, 59.0, Doubt(7.0, 0.2, 0.45, 5.0, 9.4, 11.0, 40.0), AT_ONCE)
    cap = Cap(20.0, "twenty")
    calm_grams, wild_grams = (wanted_grams(level, 100.0, cap, SHIPPED_SETTINGS) for level in (calm, wild))
    assert wild_grams > calm_grams
    steepest = Fall(SHIPPED_SETTINGS.most_fall_mg_dl_per_min, SHIPPED_SETTINGS.fall_lasts_minutes)
    assert wild.chance_below(70.0, wild_grams, 40.0, steepest) == pytest.approx(0.10, abs=1e-4)
    assert calm.chance_below(100.0, calm_grams, AT_ONCE.minutes_to_top) == pytest.approx(0.50, abs=1e-4)


def test_a_rise_that_grows_with_the_power_0_7_of_the_grams_takes_more_than_the_reference_says():
    bent = Response(AT_ONCE.shares, 4.8, 0.7)
    assert bent.effective_grams(4.8) == pytest.approx(4.8)
    assert bent.effective_grams(9.6) == pytest.approx(4.8 * 2**0.7)
    level = Predictive(50.0, 50.0, NO_DOUBT, bent)
    assert wanted_grams(level, 100.0, Cap(20.0, "twenty"), SHIPPED_SETTINGS) == pytest.approx(
        4.8 * (50 / 7 / 4.8) ** (1 / 0.7), abs=1e-4
    )


def test_twice_the_nodes_move_no_amount_by_a_hundredth_of_a_gram(monkeypatch):
    from gramrise.report.card.numbers import predictive

    def grams() -> list[float]:
        predictive.rise_nodes.cache_clear()
        doubts = [Doubt(f, s, e, 5.0, 9.4, 11.0, 40.0) for f in (4.0, 9.0) for s, e in ((0.14, 0.35), (0.45, 0.45))]
        return [
            wanted_grams(Predictive(54, 60, d, AT_ONCE), 100.0, Cap(20, "twenty"), SHIPPED_SETTINGS) for d in doubts
        ]

    usual = grams()
    monkeypatch.setattr(predictive, "FACTOR_NODES", 2 * predictive.FACTOR_NODES)
    monkeypatch.setattr(predictive, "SCATTER_NODES", 2 * predictive.SCATTER_NODES)
    assert grams() == pytest.approx(usual, abs=0.01)
    predictive.rise_nodes.cache_clear()


def test_at_32_kg_the_cap_is_9_6_grams_at_90_kg_20_and_the_care_plan_may_lower_it():
    assert cap_of(32.0, None, SHIPPED_SETTINGS) == Cap(pytest.approx(9.6), "weight")
    assert cap_of(90.0, None, SHIPPED_SETTINGS) == Cap(20.0, "twenty")
    assert cap_of(90.0, 8.0, SHIPPED_SETTINGS) == Cap(8.0, "plan")


@pytest.mark.parametrize(
    ("wanted", "piece", "pieces", "reason"),
    [
        (3.2, 4.0, 1, ""),  # exactly 25 % over
        (3.19, 4.0, None, "piece_too_much"),
        (4.0, 4.0, 1, ""),
        (4.1, 4.0, 2, ""),  # rounded up: too little keeps a child low
        (5.0, 0.92, 6, ""),
        (9.0, 10.0, None, "piece_over_cap"),
        (0.0, 0.92, None, "at_target"),
    ],
)
def test_whole_pieces_are_rounded_up_and_one_piece_may_be_a_quarter_over(wanted, piece, pieces, reason):
    given = amount_of(wanted, Cap(9.6, "weight"), Step(AmountUnit.PIECE, 1, piece), SHIPPED_SETTINGS)
    assert (given.units, given.reason) == (pieces, reason)


def test_an_amount_over_the_cap_is_cut_to_whole_pieces_under_it_and_says_look_again():
    given = amount_of(None, Cap(9.6, "weight"), Step(AmountUnit.PIECE, 1, 4.0), SHIPPED_SETTINGS)
    assert (given.units, given.grams, given.look_again) == (2, 8.0, True)


def test_an_amount_whose_last_piece_does_not_fit_under_the_cap_says_look_again_too():
    given = amount_of(9.0, Cap(9.6, "weight"), Step(AmountUnit.PIECE, 1, 4.0), SHIPPED_SETTINGS)
    assert (given.units, given.look_again) == (2, True)


def test_a_child_whom_one_gram_raises_little_gets_the_cap_and_look_again():
    view = card(who=person(plan=replace(PLAN, standard_grams=9)), found=factors(daytime=3.0))
    assert all(cell.grams <= view.cap.grams for row in view.rows for cell in row.cells)
    assert view.rows[0].cells[0].look_again
    assert view.rows[0].cells[0].amount == 10  # 9.2 g of pieces of 0.92 g: the last whole one under 9.6 g


@pytest.mark.parametrize(
    ("standard", "expected"),
    [
        (9.5, ("thin", 2, 9.5)),  # two pieces, 9.46 g: a hair over 0.3 g/kg, but what the clinic ordered
        (4.7, ("own", 1, 4.73)),
        (7.0, ("own", 1, 4.73)),  # no whole number of pieces comes close
    ],
)
def test_where_a_cap_and_whole_pieces_leave_less_than_the_plan_orders_the_plan_holds(standard, expected):
    candy = replace(SMALL_PIECES, grams_per_piece=4.73)
    who = person(
        plan=replace(PLAN, standard_grams=standard, most_grams=20.0), weights_kg=Dated(((card_people.TODAY, 31.5),))
    )
    cell = card(candy, who=who, found=factors(weight_kg=31.5, daytime=3.0)).rows[0].cells[0]
    assert (cell.state, cell.amount, cell.grams) == (expected[0], expected[1], pytest.approx(expected[2]))


def test_a_liquid_is_told_in_whole_ml():
    view = card(LIQUID)
    assert all(cell.grams == pytest.approx(cell.amount / 4) for row in view.rows for cell in row.cells)
    assert view.source.unit == "mL"


def test_a_higher_target_asks_for_more():
    # In mL: a whole piece may be too coarse to show it.
    low, high = (card(LIQUID, who=person(target_mg_dl=always(target))) for target in (90.0, 120.0))
    assert all(a < b for a, b in zip(amounts(low), amounts(high), strict=True))


def test_where_one_piece_is_too_much_the_card_for_the_liquid_is_named():
    view = card(BIG_PIECES, found=factors(daytime=22.0, overnight=22.0))
    assert "piece_too_much" in reasons(view)
    assert view.finer_source == "night bottle"
    assert card(SMALL_PIECES).finer_source == ""


def test_a_reader_in_mmol_l_has_the_consensus_limits_as_edges_of_the_rows():
    rows = card(who=person(unit=GlucoseUnit.MMOL_L)).rows
    assert [(row.shown_from, row.shown_to) for row in rows] == [(3.0, 3.4), (3.5, 3.8), (3.9, 4.3)]


def test_the_rows_follow_on_each_other_without_gap_or_overlap():
    for unit in GlucoseUnit:
        rows, step = card(who=person(unit=unit)).rows, SHIPPED_SETTINGS.shown_step(unit)
        assert all(b.shown_from - a.shown_to == pytest.approx(step) for a, b in pairwise(rows))


def test_the_row_above_70_stands_only_where_the_care_plan_allows_glucose_when_falling():
    assert [row.early for row in card().rows] == [False, False, True]
    assert [row.early for row in card(who=person(replace(PLAN, early_grams_allowed=False))).rows] == [False] * 2


def test_monohydrate_pieces_hold_nine_percent_less():
    weaker = Source("pocket tin", Form.TABLET, grams_per_piece=0.92, stated_as=StatedAs.MONOHYDRATE)
    assert card(weaker).source.glucose_per_unit_g == pytest.approx(0.92 * 180.156 / 198.171)


def test_a_row_holds_every_level_the_reader_shows_as_one_of_its_values():
    from gramrise.report.card.numbers.cells import span_of

    # A reader that shows whole mg/dL shows 54 for 53.5 to 54.5; one in mmol/L shows 3.0 for 2.95 to 3.05.
    assert span_of((54, 59), GlucoseUnit.MG_DL, SHIPPED_SETTINGS) == (53.5, 59.5)
    assert span_of((3.0, 3.2), GlucoseUnit.MMOL_L, SHIPPED_SETTINGS) == pytest.approx((2.95 * 18.0156, 3.25 * 18.0156))


def test_the_low_is_left_behind_in_the_steepest_fall_the_card_is_for():
    """A fall of 1 a minute that dies away with 20 minutes takes 20 x (1 - e^-2) = 17.3 mg/dL in 40 minutes."""
    assert Fall(1.0, 20.0).fallen_mg_dl(40.0) == pytest.approx(17.29, abs=0.01)
    steady = SHIPPED_SETTINGS.model_copy(update={"most_fall_mg_dl_per_min": 0.0})
    who, found = person(replace(PLAN, standard_grams=9)), factors(event_sd_log=0.6)
    falling, calm = card(who=who, found=found), card(who=who, found=found, settings=steady)
    assert [a > b for a, b in zip(amounts(falling)[1:], amounts(calm)[1:], strict=True)] == [True, True]
    for row in falling.rows:
        for cell in row.cells:
            assert cell.look_again or cell.chance_below_safe <= 0.10 + 1e-6


def test_a_computed_amount_is_never_under_the_plans_least_and_never_over_its_most():
    own = amounts(card())
    assert own == [8, 6, 5]  # 7.36, 5.52 and 4.6 g
    assert amounts(card(who=person(replace(PLAN, least_grams=6.0)))) == [8, 7, 7]
    limited = replace(PLAN, most_grams=6.0, standard_grams=6.0)
    assert amounts(card(who=person(limited))) == [6, 6, 5]
    assert card(who=person(limited)).cap.code == "plan"
    # Where the least is more than 0.3 g/kg, the cap holds; but not over the plan’s own amount for lows, 10 g.
    assert amounts(card(who=person(replace(PLAN, least_grams=9.9)))) == [11, 11, 10]


def test_a_cup_is_read_to_the_step_that_is_set():
    fives = card(LIQUID, settings=SHIPPED_SETTINGS.model_copy(update={"liquid_step_ml": 5}))
    assert {cell.amount % 5 for row in fives.rows for cell in row.cells} == {0}


def test_a_row_counts_the_error_of_a_reading_in_so_two_rows_are_enough():
    for unit in GlucoseUnit:
        assert len(SHIPPED_SETTINGS.rows(unit)) == 2


def test_without_doubt_a_row_of_readings_spreads_its_outcome_evenly_and_no_further():
    level = Predictive(54.0, 64.0, NO_DOUBT, AT_ONCE)  # 6 g raise it by 42, to 96-106
    chances = [level.chance_below(at, 6.0, 60.0) for at in (95.0, 98.5, 101.0, 120.0)]
    assert chances == pytest.approx([0.0, 0.25, 0.5, 1.0], abs=1e-9)
    assert level.quantile(0.25, 6.0, 60.0) == pytest.approx(98.5, abs=1e-3)


def test_without_doubt_one_reading_has_one_outcome():
    level = Predictive(57.0, 57.0, NO_DOUBT, AT_ONCE)
    assert [level.chance_below(at, 6.0, 60.0) for at in (98.9, 99.1)] == pytest.approx([0.0, 1.0])


def test_an_error_of_reading_of_1_mg_dl_counts_like_any_other():
    slight = replace(NO_DOUBT, reading_error_sd_mg_dl=1.0)
    one = Predictive(57.0, 57.0, slight, AT_ONCE)  # 6 g: 99 +- 1
    assert one.chance_below(100.0, 6.0, 60.0) == pytest.approx(0.8413, abs=1e-4)
    row = Predictive(54.0, 64.0, slight, AT_ONCE)
    assert row.chance_below(96.0, 6.0, 60.0) == pytest.approx(0.0399, abs=1e-3)  # 1 / (10 sqrt(2 pi))
