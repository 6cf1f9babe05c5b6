"""The live panel equals the one made anew, costs no review while nothing changed, and changes with what it rests on."""

from datetime import timedelta

import pytest
from support.nightly_home import START, child, doses_csv, readings_csv, settled

from gramrise.nightly import LivePanel, SignOff, live_panel, reviews_of, sign_reference, take_in_file
from gramrise.store import Store

NOW = START + timedelta(hours=14)


@pytest.fixture
def store(tmp_path):
    home = tmp_path / "home"
    settled(home)
    with Store.open(home) as opened:
        opened.save_person(child())
        bring(opened, "trace.csv", readings_csv(START, 13, 10))
        bring(opened, "log.csv", doses_csv(START + timedelta(hours=10)))
        yield opened


def bring(store, name, text):
    (store.home / name).write_text(text, "utf-8")
    take_in_file(store, store.home, store.person("mia"), store.home / name, NOW)


@pytest.fixture
def look(store, monkeypatch):
    """Looks at the panel; how many reviews were made for it is counted."""
    made, panel = [], LivePanel()
    plain = live_panel.review_of
    monkeypatch.setattr(live_panel, "review_of", lambda *told: made.append(told[1]) or plain(*told))

    def looked(now=NOW):
        before = len(made)
        shown = panel.panel(store, store.persons(), now, store.home, "en")
        return shown, len(made) - before

    return looked


def test_it_equals_the_panel_made_anew_and_costs_no_review_when_looked_at_again(store, look):
    anew = reviews_of(store, store.persons(), NOW, store.home, "en", lambda _review: None)
    assert look() == (anew, 1)
    assert look() == (anew, 0)


def change_log(store):
    bring(store, "more.csv", doses_csv(START + timedelta(hours=12)))


def change_sign_off(store):
    sign_reference(store, "mia", SignOff("Dr. Vogel"), NOW, store.home)


@pytest.mark.parametrize("change", [change_log, change_sign_off])
def test_a_line_is_made_again_when_what_it_rests_on_has_changed(store, look, change):
    look()
    change(store)
    shown, made = look()
    assert made == 1
    assert shown == reviews_of(store, store.persons(), NOW, store.home, "en", lambda _review: None)


def test_a_new_day_makes_it_again(look):
    look()
    assert look(NOW + timedelta(days=1))[1] == 1
