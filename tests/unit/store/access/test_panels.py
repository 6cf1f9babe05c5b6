"""Panels: a clinic's people see whom they look after, and of the others not even whether they exist."""

from dataclasses import replace

import pytest
from support.store_logs import child

from gramrise.domain.problems import WrongUse


@pytest.fixture
def panels(store):
    store.save_person(replace(child(), person_id="tom"))
    store.panels.add("north", ["mia"])
    return store.panels


def test_a_panel_shows_its_persons_and_no_others(panels):
    panels.refuse_other("north", "mia")
    with pytest.raises(WrongUse) as hidden:
        panels.refuse_other("north", "tom")
    with pytest.raises(WrongUse) as unknown:
        panels.refuse_other("north", "nobody")
    assert str(hidden.value).replace("tom", "nobody") == str(unknown.value)
    assert panels.persons_of("south") == []


def test_persons_come_and_go_and_those_nobody_has_are_refused_whole(panels):
    panels.add("north", ["tom", "mia"])
    panels.add("south", ["tom"])
    assert panels.all() == {"north": ["mia", "tom"], "south": ["tom"]}
    with pytest.raises(WrongUse, match="nobody here has the id 'who'"):
        panels.add("south", ["mia", "who"])
    with pytest.raises(WrongUse, match="needs a name"):
        panels.add(" ", ["mia"])
    panels.remove("north", ["mia", "tom"])
    assert panels.all() == {"south": ["tom"]}


def test_whoever_is_forgotten_is_in_no_panel(panels, store):
    store.forget("mia")
    assert panels.all() == {}
