"""A word that is the name of the sister's source is no general word for the brother's: it is asked about."""

import pytest
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.store import Store


def typed(home, *words, answers=""):
    return CliRunner().invoke(app, ["--home", str(home), *words], input=answers)


def child(home, name, source, grams, language="en", also=()):
    typed(home, "person", "add", name, "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31",
          "--language", language)  # fmt: skip
    typed(home, "person", "source", name, source, "--form", "tablet", "--grams-per-piece", grams, "--stated-as",
          "anhydrous", *also)  # fmt: skip


def doses(home, name="ole"):
    with Store.open(home) as store:
        return store.inputs(name).doses.select("source", "grams").rows()


@pytest.fixture
def home(tmp_path):
    """Ole has a Bonbon of 2.5 g, Tilda a candy of 4 g, which she also calls Stück."""
    child(tmp_path / "home", "ole", "Bonbon", "2.5")
    child(tmp_path / "home", "tilda", "candy", "4", also=("--also", "Stück"))
    return tmp_path / "home"


def test_two_candies_given_to_ole_are_asked_about_for_candy_is_tildas(home):
    told = typed(home, "give", "2 candies", "--person", "ole")
    assert told.exit_code == 1
    assert "'candy' is a source of tilda" in " ".join(told.output.split())
    assert doses(home) == [("", None)]
    asked = typed(home, "ask", "--person", "ole", answers="1\n").output
    assert "pieces of Bonbon: 2 = 5 g" in asked
    assert doses(home) == [("Bonbon", 5.0)]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("night.txt", "2026-03-01\n22:40 2 candy\n"),
        ("night.csv", "time,glucose given\n2026-03-01 22:40,2 candy\n"),
        ("night.csv", "time,candy given\n2026-03-01 22:40,2 pieces\n"),
    ],
)
def test_tildas_candy_in_oles_file_never_becomes_his_bonbon_unasked(home, tmp_path, name, text):
    (tmp_path / name).write_text(text)
    told = typed(home, "import", str(tmp_path / name), "--person", "ole")
    assert told.exit_code == 1, told.output
    assert [row for row in doses(home) if row[1] is not None] == []


@pytest.mark.parametrize("words", ["2 Bonbon", "2 pieces", "2 Stück", "2 tablets"])
def test_his_own_name_and_general_words_stay_his(home, words):
    assert typed(home, "give", words, "--person", "ole").exit_code == 0
    assert doses(home) == [("Bonbon", 5.0)]


def test_a_name_that_both_have_is_each_ones_own(home):
    typed(home, "person", "source", "ole", "candy", "--form", "tablet", "--grams-per-piece", "3", "--stated-as",
          "anhydrous")  # fmt: skip
    assert typed(home, "give", "2 candy", "--person", "ole").exit_code == 0
    assert doses(home) == [("candy", 6.0)]


def test_candy_stays_a_general_word_where_nobody_else_has_one(tmp_path):
    child(tmp_path / "home", "ole", "Bonbon", "2.5")
    assert typed(tmp_path / "home", "give", "2 candy").exit_code == 0
    assert doses(tmp_path / "home") == [("Bonbon", 5.0)]


def test_a_german_family_is_told_in_german_whose_source_it_is(tmp_path):
    child(tmp_path / "home", "ole", "Bonbon", "2.5", "de")
    child(tmp_path / "home", "tilda", "candy", "4", "de")
    told = " ".join(typed(tmp_path / "home", "give", "2 candy", "--person", "ole").output.split())
    assert "„candy“ ist eine Quelle von tilda. Von welcher Quelle war es?" in told
