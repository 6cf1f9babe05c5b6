"""When a card no longer holds, and what is said about it."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from support.card_people import LIQUID, NOW, PLAN, SMALL_PIECES, TODAY, always, card, factors, person

from gramrise.domain.bands import TimeBand
from gramrise.domain.person import Dated
from gramrise.domain.sources import Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.report.card import void_reasons
from gramrise.report.card.pages.face import face_of

TOMORROW = TODAY + timedelta(days=1)
LATER = NOW + timedelta(days=2)


def codes(view, who, now=LATER):
    return [reason.code for reason in void_reasons(view, who, now)]


def test_a_card_holds_while_nothing_changes():
    assert codes(card(), person()) == []


@pytest.mark.parametrize(("kg", "ends"), [(33.59, False), (33.6, True), (30.41, False), (30.4, True), (36.0, True)])
def test_five_percent_of_body_weight_end_a_card(kg, ends):
    heavier = person(weights_kg=Dated(((TODAY, 32.0), (TOMORROW, kg))))
    assert codes(card(), heavier, NOW + timedelta(days=1)) == (["weight"] if ends else [])


@pytest.mark.parametrize("made_at", [28.4, 32.0, 32.3, 11.05, 63.37])
def test_the_weights_printed_on_a_card_end_it_and_a_tenth_of_a_kg_inside_them_does_not(made_at):
    """Who weighs just what the card names throws it away, and the list of cards must say the same."""
    grown_up = person(born=date(1990, 1, 1), weights_kg=Dated(((TODAY, made_at),)))  # no growth between weighings
    view = card(who=grown_up, found=factors(weight_kg=made_at))
    printed = face_of(view).notes.void.lines[0]
    low, high = (float(kg) for kg in re.findall(r"([0-9.]{1,6})\u00a0kg or (?:less|more)", printed))

    def ended(kg):
        weighed = replace(grown_up, weights_kg=Dated(((TODAY, made_at), (TOMORROW, kg))))
        return codes(view, weighed, NOW + timedelta(days=1))

    assert (ended(low), ended(high)) == (["weight"], ["weight"])
    assert (ended(round(low + 0.1, 1)), ended(round(high - 0.1, 1))) == ([], [])
    # To the careful side: never more than the share of the settings, and less by under 0.1 kg.
    assert 0.95 * made_at - 1e-9 <= low < 0.95 * made_at + 0.1
    assert 1.05 * made_at - 0.1 < high <= 1.05 * made_at + 1e-9


def test_a_weighing_dated_after_today_ends_nothing_yet_and_moves_no_weight():
    grown_up = person(born=date(1990, 1, 1))  # no growth between weighings
    heavier = replace(grown_up, weights_kg=Dated(((TODAY, 32.0), (TODAY + timedelta(days=4), 60.0))))
    assert codes(card(who=grown_up), heavier) == []
    assert card(who=heavier).weight_kg == pytest.approx(32.0)
    child = person(weights_kg=Dated(((TODAY, 32.0), (TODAY + timedelta(days=4), 60.0))))
    assert codes(card(), child, NOW + timedelta(days=3)) == []


def test_another_name_or_birth_date_ends_it_as_it_hangs_beside_the_wrong_child():
    assert codes(card(), person(name="Noah Okafor")) == ["name"]
    assert codes(card(), person(born=date(2016, 3, 2))) == ["name"]


def test_another_strength_ends_it_and_so_does_the_end_of_the_source():
    weaker = replace(SMALL_PIECES, stated_as=StatedAs.MONOHYDRATE)
    assert codes(card(), person(sources=always((weaker,)))) == ["strength"]
    assert codes(card(), person(sources=always((LIQUID,)))) == ["source_gone"]
    in_ml = Source(SMALL_PIECES.name, SMALL_PIECES.form, grams_per_ml=0.92, stated_as=StatedAs.ANHYDROUS)
    assert codes(card(), person(sources=always((in_ml,)))) == ["strength"]


def test_the_old_strength_is_told_as_the_label_says_it():
    weaker = replace(SMALL_PIECES, grams_per_piece=0.5)
    (reason,) = void_reasons(card(), person(sources=always((weaker,))), LATER)
    assert "0.92" in reason.sentence
    assert "0.920" not in reason.sentence


def test_a_card_for_a_source_of_unknown_strength_ends_when_the_strength_is_told():
    view = card("tin")
    assert codes(view, person()) == []
    assert codes(view, person(sources=always((replace(SMALL_PIECES, name="tin"),)))) == ["strength_told"]


def test_other_hours_delivery_target_plan_or_unit_end_it():
    bands = (TimeBand("daytime", time(6), time(22)), TimeBand("overnight", time(22), time(6)))
    view = card()
    assert codes(view, person(bands=Dated(((date.min, person().bands_now()), (TOMORROW, bands))))) == ["bands"]
    assert codes(view, person(delivery=Dated(((date.min, Delivery.PUMP), (TOMORROW, Delivery.AUTOMATED))))) == [
        "delivery"
    ]
    assert codes(view, person(target_mg_dl=Dated(((TOMORROW, 110.0),)))) == ["target"]
    assert codes(view, person(replace(PLAN, most_grams=8.0))) == ["plan"]
    assert codes(view, person(unit=GlucoseUnit.MMOL_L)) == ["unit"]


def test_it_holds_through_its_last_day_on_the_persons_own_clock():
    view = card()
    assert view.valid_until == date(2027, 2, 24)
    # Chicago is six hours behind: the 24th ends there at 06:00 UTC on the 25th.
    assert codes(view, person(), datetime(2027, 2, 25, 5, 59, tzinfo=UTC)) == []
    assert codes(view, person(), datetime(2027, 2, 25, 6, 0, tzinfo=UTC)) == ["expired"]


def test_across_the_date_line_the_same_instant_ends_one_card_and_not_the_other():
    made, at = datetime(2026, 11, 24, 9, 30, tzinfo=UTC), datetime(2027, 2, 24, 10, 30, tzinfo=UTC)
    found = {}
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        who = person(zone=always(ZoneInfo(zone)), weights_kg=Dated(((TODAY - timedelta(days=2), 32.0),)))
        found[zone] = codes(card(who=who, now_utc=made), who, at)
    assert found == {"Pacific/Kiritimati": ["expired"], "Pacific/Pago_Pago": []}


def test_every_reason_is_told_at_once_in_the_cards_language():
    german = person(language="de")
    later = replace(german, weights_kg=Dated(((TODAY, 32.0), (TOMORROW, 35.5))), delivery=always(Delivery.INJECTIONS))
    view = card(who=german).model_copy(update={"valid_until": TODAY})
    told = [reason.sentence for reason in void_reasons(view, later, NOW + timedelta(days=1))]
    assert told == [
        "Das Körpergewicht war 32,0\u00a0kg und ist jetzt etwa 35,5\u00a0kg.",
        "Die Insulingabe hat sich geändert.",
        "Sie galt bis 24. November 2026.",
    ]


def test_a_card_without_a_weight_ends_when_one_is_known():
    nobody_weighed = person(weights_kg=Dated())
    view = card(who=nobody_weighed, found=factors(weight_kg=None, state="withheld"))
    assert codes(view, nobody_weighed) == []
    assert codes(view, person()) == ["weight_known"]
    assert "now about 32.0\u00a0kg" in void_reasons(view, person(), LATER)[0].sentence
    assert codes(card(), nobody_weighed) == ["weight_unknown"]


def test_growth_counts_between_weighings_too():
    # At the 50th percentile a boy grows from 32.0 kg by about a third of a kg a month (CDC 2000): 5 % take some months.
    view, who = card(), person(sex="boy")
    assert codes(view, who, NOW + timedelta(days=60)) == []
    in_a_year = [reason.code for reason in void_reasons(view, who, NOW + timedelta(days=365))]
    assert in_a_year == ["weight", "expired"]
