"""A weighing that does not go with the child counts nowhere before somebody says what it is."""

import re

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.store import Store


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words])


@pytest.fixture
def home(tmp_path):
    typed(tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    return tmp_path


def weights(home):
    with Store.open(home) as store:
        return [kg for _, kg in store.person("mia").weights_kg.entries]


def test_pounds_typed_as_kg_change_nothing_and_wait(home):
    before = typed(home, "factors").output
    told = typed(home, "person", "weigh", "mia", "69")
    assert told.exit_code == 1
    assert "not counted yet" in told.output
    assert weights(home) == [31.5]
    assert typed(home, "factors").output.split("\n")[2:5] == before.split("\n")[2:5]
    with Store.open(home) as store:
        assert {each.question.kind for each in store.questions("mia")} <= {"weight_jump", "weight_for_age"}
        assert len(store.questions("mia")) == 1


def test_the_true_weight_of_the_next_day_is_not_blamed(home):
    typed(home, "person", "weigh", "mia", "69", "--on", "2026-03-01")
    assert typed(home, "person", "weigh", "mia", "31.6", "--on", "2026-03-02").exit_code == 0
    assert 31.6 in weights(home)


def test_no_message_about_a_weighing_holds_a_number_nobody_typed(home):
    for words in (("69",), ("heavy",), ("3000",)):
        told = typed(home, "person", "weigh", "mia", *words)
        said = told.output + str(told.exception or "")
        assert "71.5" not in said
        assert "32.4" not in said
    assert not re.search(r"\d[\d.]*\s?(kg|lb)\b", typed(home, "person", "weigh", "--help").output)


def test_a_doubted_first_weight_counts_nowhere_either(tmp_path):
    added = typed(
        tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "71"
    )
    assert added.exit_code == 1
    assert weights(tmp_path) == []
