"""Every card that is out is watched, named when it no longer holds, and left alone once it is thrown away."""

from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from support.card_people import BIG_PIECES, LIQUID, NOW, PLAN, SMALL_PIECES, TODAY, always, card, person
from support.nightly_home import readings_csv
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import StatedAs
from gramrise.nightly import take_in_file
from gramrise.nightly.cards import cards_out, make_card
from gramrise.report import CardState
from gramrise.report.weekly.chapters.card_lines import card_lines
from gramrise.report.words import words_for
from gramrise.store import Card, Store

EN, DE = (words_for(language, "mg/dL", "UTC") for language in ("en", "de"))


def dated_person(**changed):
    """Mira as she can be stored: every fact from a real date on."""
    facts = {
        "zone": Dated(((date(2016, 3, 1), ZoneInfo("America/Chicago")),)),
        "care_plan": Dated(((date(2026, 9, 1), PLAN),)),
        "sources": Dated(((date(2016, 3, 1), (SMALL_PIECES, BIG_PIECES, LIQUID)),)),
        "delivery": Dated(((date(2016, 3, 1), person().delivery.latest()),)),
    }
    return person(**(facts | changed))


def keep(store, view, number):
    store.keep_card(
        Card("mira", number, view.source.name, view.for_school, NOW, view.valid_until, view.model_dump_json())
    )


@pytest.fixture
def four(tmp_path):
    """Four cards: two of the pocket tin, one of the bottle, one for the school."""
    with Store.open(tmp_path) as store:
        store.save_person(dated_person())
        for number, view in enumerate((card(), card(LIQUID), card(), card(for_school=True)), start=1):
            keep(store, view, number)
        yield store


def void(store, who, now=NOW):
    return {state.number: state.void_because for state in cards_out(store, who, now)}


def test_with_four_cards_out_each_one_of_the_tin_is_told_when_its_strength_changes(four):
    weaker = replace(SMALL_PIECES, stated_as=StatedAs.MONOHYDRATE)
    changed = dated_person(sources=always((weaker, LIQUID)))
    told = void(four, changed)
    assert {number: because[:1] for number, because in told.items()} == {
        1: ("strength",), 2: (), 3: ("strength",), 4: ("strength",)
    }  # fmt: skip


def test_a_card_that_was_thrown_away_is_watched_no_longer_and_cannot_be_thrown_away_twice(four):
    four.throw_away_card("mira", 1, TODAY)
    assert sorted(void(four, dated_person())) == [2, 3, 4]
    with pytest.raises(WrongUse, match="out are: 2, 3, 4"):
        four.throw_away_card("mira", 1, TODAY)
    with pytest.raises(WrongUse, match="card 9 is not out"):
        four.throw_away_card("mira", 9, TODAY)
    assert [one.gone_on for one in four.cards_of("mira")] == [TODAY, None, None, None]


def test_a_card_said_to_be_thrown_away_by_a_slip_is_watched_again(four):
    four.throw_away_card("mira", 1, TODAY)
    four.hang_card_again("mira", 1)
    assert sorted(void(four, dated_person())) == [1, 2, 3, 4]
    with pytest.raises(WrongUse, match="card 2 was not said to be thrown away"):
        four.hang_card_again("mira", 2)


def test_a_card_made_by_an_earlier_version_is_told_to_be_thrown_away_and_stops_nothing(four):
    four.keep_card(Card("mira", 5, "pocket tin", False, NOW, TODAY, '{"number": 5, "of": "long ago"}'))
    assert void(four, dated_person())[5] == ("old_form",)


def another_amount(view):
    """The card with one piece more in its lowest row."""
    first, *others = view.rows
    cells = tuple(cell.model_copy(update={"amount": (cell.amount or 0) + 1}) for cell in first.cells)
    return view.model_copy(update={"rows": (first.model_copy(update={"cells": cells}), *others)})


def test_a_newer_card_with_other_amounts_ends_the_older_ones_of_the_same_glucose_alone(four):
    """Two that hang with two amounts: who reads them at night cannot tell which is right."""
    keep(four, another_amount(card()), 5)
    assert void(four, dated_person()) == {1: ("replaced",), 2: (), 3: ("replaced",), 4: (), 5: ()}
    four.throw_away_card("mira", 5, TODAY)
    assert set(void(four, dated_person()).values()) == {()}


def test_a_copy_of_another_size_ends_nothing(four):
    """The card for the wallet beside the one on the fridge: the same amounts under another number."""
    keep(four, card(), 5)
    assert set(void(four, dated_person()).values()) == {()}


def state(number, because=(), source="tin", school=False):
    return CardState(
        number=number, made_on=TODAY, valid_until=TODAY, source=source, for_school=school, void_because=because
    )


def test_the_weekly_letter_names_each_card_and_why_it_no_longer_holds():
    out = (state(1, ("weight",)), state(2, (), "bottle"), state(3, ("weight",)), state(4, ("strength",), school=True))
    assert card_lines(out, EN) == (
        "Card 4 (tin, school) no longer holds: the strength of the glucose has changed. "
        "Throw it away; print a new one.",
        "Cards 1, 3 (tin) no longer hold: the body weight has changed. Throw them away; print new ones.",
        "Card 2 (bottle) still holds, until 24 November 2026 at the latest.",
    )
    assert card_lines(out, DE)[1].startswith("Karten 1, 3 (tin) gelten nicht mehr: das Körpergewicht")
    assert card_lines((), EN) == ("No card has been made yet.",)


def test_a_card_that_is_withheld_is_never_kept(tmp_path):
    with Store.open(tmp_path) as store:
        store.save_person(dated_person(care_plan=Dated()))
        with pytest.raises(WrongUse, match="the card is withheld"):
            make_card(store, "mira", "pocket tin", NOW, tmp_path)
        assert store.cards_of("mira") == []


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words])


def test_card_list_shows_all_that_are_out_and_gone_takes_one_off(four, tmp_path):
    told = typed(tmp_path, "card", "--list")
    assert "pocket tin, school" in told.output
    assert all(f" {number} " in told.output for number in (1, 2, 3, 4))
    assert typed(tmp_path, "card", "--gone", "1").exit_code == 0
    assert "  1  " not in typed(tmp_path, "card", "--list").output


def test_a_card_without_a_plan_says_what_is_missing_and_writes_nothing(tmp_path):
    with Store.open(tmp_path) as store:
        store.save_person(dated_person(care_plan=Dated(), weights_kg=Dated(((NOW.date() + timedelta(0), 32.0),))))
    told = typed(tmp_path, "card", "--source", "pocket tin", "--out", str(tmp_path / "out"))
    assert told.exit_code == 1
    assert "person plan mira --sheet" in " ".join(told.output.split())
    assert not (tmp_path / "out").exists()


def test_a_card_with_measured_amounts_ends_when_what_it_was_learned_from_is_taken_back(four, tmp_path):
    def brought(name, at_utc):
        (tmp_path / name).write_text(readings_csv(at_utc - timedelta(hours=9), 4))
        take_in_file(four, tmp_path, four.person("mira"), tmp_path / name, at_utc)
        return four.last_changes("mira", 1)[0].change_id

    before, after = brought("before.csv", NOW - timedelta(days=1)), brought("after.csv", NOW + timedelta(hours=6))
    who, later = dated_person(), NOW + timedelta(hours=8)
    four.undo(after, later)
    assert set(void(four, who, later).values()) == {()}
    four.undo(before, later)
    assert void(four, who, later) == {1: ("evidence",), 2: ("evidence",), 3: ("evidence",), 4: ()}
