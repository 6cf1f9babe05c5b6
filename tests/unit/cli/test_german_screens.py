"""The screens of a household that reads German: no title, head or cell word is left in English."""

import re
from datetime import UTC, datetime

import pytest
from typer.testing import CliRunner

from gramrise.cli import tables
from gramrise.cli.context import Household
from gramrise.cli.main import app
from gramrise.connectors.shelf import load_layouts
from gramrise.report import in_language, screen_words

NOW = datetime(2026, 6, 10, 10, tzinfo=UTC)
ENGLISH = (
    *("when", "seen", "used", "set aside", "People", "born", "gives", "Batches", "mixed", "made up to", "Readings of"),
    *(
        "below range",
        "Pairings of",
        "Expected",
        "expected",
        "after",
        "glucose given",
        "Sign-offs",
        "signed",
        "accepted",
    ),
    *("number of", "holds", "Holds", "until", "treatments", "typed name", "half is there", "top", "left after"),
    *("Measured", "How the level", "batch", "likely", "the night", "the pocket", "Vomiting", "when chewing", "unit"),
    *("from", "liquid", "daytime", "own", "Repeatable", "highest reading"),
)
COMMANDS = {
    "readings": "readings",
    "pairings": "pairings",
    "predictions": "predictions",
    "courses": "factors --course",
    "treatments": "treatments",
    "people": "person list",
    "sign": "sign ada --by Dr.Beispiel",
    "sign-list": "sign ada --list",
    "mix": "mix",
    "layouts": "layouts",
}


def typed(home, *words):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Household, "now_utc", lambda _: NOW)
        result = CliRunner().invoke(app, ["--home", str(home), *words])
    assert result.exit_code == 0, result.output + str(result.exception)
    return result.output


def english_in(told):
    return [word for word in ENGLISH if re.search(rf"\b{re.escape(word)}\b", told)]


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    """A German household: twelve treatments by day, one batch."""
    folder = tmp_path_factory.mktemp("german")
    born = ("--born", "01.05.2016", "--zone", "Europe/Berlin", "--weight-kg", "32")
    typed(folder, "person", "add", "ada", *born, "--language", "de")
    typed(folder, *["person", "source", "ada", "tabs", "--form", "tablet", "--grams-per-piece", "4"])
    readings, given = ["time,glucose (mg/dL)"], ["time,source,amount"]
    for day in range(12):
        for at in range(288):
            minutes = at * 5 - 12 * 60
            value = 110 - max(0, min(90, minutes + 90)) / 90 * 46 + max(0, min(45, minutes - 5)) + (at * 7 + day) % 4
            readings.append(f"2026-05-{10 + day:02}T{at // 12:02}:{at % 12 * 5:02}Z,{value:.0f}")
        given.append(f"2026-05-{10 + day:02}T12:00Z,tabs,2")
    for name, lines in (("readings.csv", readings), ("given.csv", given)):
        (folder / name).write_text("\n".join(lines) + "\n", "utf-8")
        typed(folder, "import", str(folder / name))
    recipe = ("--powder", "monohydrate", "--strength", "1.25 g per 5 mL", "--volume", "500")
    typed(folder, "mix", "flasche", *recipe, "--done", "--weighed", "548")
    typed(folder, "sign", "ada", "--by", "Dr. Beispiel")
    return folder


@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS)
def test_a_german_screen_shows_no_english_word(home, command):
    told = typed(home, *command.split())
    assert len(told.splitlines()) > 3  # an empty table would hide its heads
    assert english_in(told) == []


def test_each_shipped_layout_says_in_english_what_its_file_says():
    words = screen_words("en")
    told = {each.name: words.say(f"layouts.about.{each.name}") for each in load_layouts(None)}
    assert told == {each.name: each.about for each in load_layouts(None)}


@pytest.mark.parametrize(
    "text", ["time;Zucker\n03.04.2026 10:00;110\n03.04.2026 10:05;112\n", "Tag,Wert\n1/2/2026,5\n"]
)
def test_how_a_file_is_recognised_is_told_in_german(home, tmp_path, text):
    (tmp_path / "neu.csv").write_text(text, encoding="utf-8")
    result = CliRunner().invoke(app, ["--home", str(home), "layouts", str(tmp_path / "neu.csv")])
    told = result.output.split("layouts/")[0]
    assert "ihre Zeichen sind utf-8" in told
    assert "OFFEN" in told
    assert not re.search(r"\b(the|its|is|are|read|add|either|mend|waits)\b", told)


def test_english_words_are_found_where_they_stand(home):
    assert {"when", "set aside"} <= set(english_in(" when   g\n Mon   set aside: insulin near"))
    assert english_in("wann   zählt nicht") == []


def test_no_word_of_the_german_treatments_breaks(home):
    told = typed(home, "treatments")
    words = screen_words("de")
    for word in ("woraus", "wofür", "Tageszeit", "tagsüber", *words.say("treatments.class.for_low").split()):
        assert word in told


def test_no_word_of_the_german_drift_breaks_in_its_widest_row(capsys):
    words = screen_words("de")
    heads = [words.say(f"drift.{key}") for key in ("band", "ratio", "likely", "growth", "beyond", "how", "changed")]
    day = words.say("drift.between", day="06.10.2025", first="01.09.2025", last="20.10.2025")
    row = ["tagsüber", "0,88", "0,61-1,28", "0,88", "27 %", words.say("drift.shape_undecided"), day]
    left = {0, 5, 6}
    tables.show("", [(head, "left" if at in left else "right") for at, head in enumerate(heads)], [row], empty="")
    shown = capsys.readouterr().out.split()
    assert [word for cell in (*heads, *row) for word in cell.split() if word not in shown] == []


def said(home, *words):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Household, "now_utc", lambda _: NOW)
        result = CliRunner().invoke(app, ["--home", str(home), *words])
    trouble = "" if result.exception is None else in_language(str(result.exception), "de")
    return " ".join(f"{result.output} {trouble}".split())


@pytest.fixture
def fresh(tmp_path):
    born = ("--born", "14.05.2018", "--zone", "Europe/Berlin", "--weight-kg", "26,4")
    typed(tmp_path, "person", "add", "jonna", *born, "--language", "de")
    return tmp_path


def test_what_was_set_of_a_person_is_told_in_german(fresh):
    assert said(fresh, "person", "set", "jonna", "--name", "Jonna B") == "jonna: Name gesetzt."
    told = said(fresh, "person", "set", "jonna", "--delivery", "pump", "--target-mg-dl", "110", "--unit", "mmol/L")
    assert told == "jonna: Insulingabe, Zielwert gesetzt ab 10.06.2026. jonna: Einheit gesetzt."
    assert said(fresh, "person", "set", "jonna", "--born", "2018-05-13") == "jonna: Geburtsdatum gesetzt."
    told = said(fresh, "person", "set", "jonna", "--born", "2081-05-14")
    assert told == "das Geburtsdatum: 14.05.2081 war noch nicht. Abhilfe: das Jahr ansehen."


def test_a_weighing_is_told_in_german(fresh):
    assert said(fresh, "person", "weigh", "jonna", "58 lb") == "jonna: 26,3 kg am 10.06.2026."
    told = said(fresh, "person", "weigh", "jonna", "26,4 lb")
    assert told.startswith("jonna: 12,0 kg am 10.06.2026, zählt noch nicht. Körpergewicht 12 kg am 10.06.2026 ")
    assert "Es zählt nirgends, bis du sagst, was es ist: gramrise ask." in told


def test_a_stated_source_is_told_in_german(fresh):
    tablet = ("--form", "tablet", "--stated-as", "monohydrate", "--grams-per-piece")
    told = said(fresh, "person", "source", "jonna", "Traubenzucker", *tablet, "4")
    assert told == "Traubenzucker: 3,64 g Glukose je Stück, ab 14.05.2018."
    told = said(fresh, "person", "source", "jonna", "Traubenzucker", *tablet, "40")
    assert told.startswith("in „Traubenzucker“ waren bisher 3,64 g je Stück, 36,4 liegt weit davon. Abhilfe: ")


def test_the_powder_may_be_named_as_a_german_bag_names_it(fresh):
    recipe = ("--strength", "0,25", "--volume", "500")
    assert "Monohydrat-Pulver" in said(fresh, "mix", "Flasche", "--powder", "Monohydrat", *recipe)
    assert "wasserfreies Pulver" in said(fresh, "mix", "Flasche", "--powder", "wasserfrei", *recipe)
    told = said(fresh, "mix", "Flasche", "--powder", "kuchen", *recipe)
    assert told.startswith("„kuchen“ ist keine Form des Pulvers. Abhilfe: auf der Tüte nachsehen: ")


def test_what_a_card_for_the_school_lacks_is_listed_in_german(fresh):
    typed(fresh, "person", "source", "jonna", "Flasche", "--form", "liquid", "--grams-per-ml", "0.25", "--home-mixed")
    told = said(fresh, "card", "--source", "Flasche", "--for", "school")
    assert "es fehlt: eine verschlossene Quelle bekannter Stärke; der Name; wen man anruft, mit einer Nummer; " in told
    assert "; ein Haltbarkeitsdatum der Notfalltasche, das noch kommt. Abhilfe: --source mit einer gekauften; " in told
    assert "gramrise person plan jonna --contact 'WER NUMMER'; " in told
    assert not re.search(r"\b(the|of|whom|with|To mend|PLACE|DATE)\b", told)


def test_the_readings_of_a_column_that_stay_possible_are_told_in_german(tmp_path):
    run = CliRunner()
    run.invoke(app, ["--home", str(tmp_path / "home"), "person", "add", "liv", "--born", "2014-02-03", "--zone",
                     "Europe/Berlin", "--weight-kg", "40", "--language", "de"])  # fmt: skip
    rows = "".join(f"31.05.2026 00:{5 * at:02d};{at % 3};11{at}\n" for at in range(6))
    (tmp_path / "t.csv").write_text(f"Zeitstempel;Aufzeichnungstyp;Glukosewert (mg/dL)\n{rows}", "utf-8")
    for words in (("layouts", str(tmp_path / "t.csv")), ("import", str(tmp_path / "t.csv"))):
        told = " ".join(run.invoke(app, ["--home", str(tmp_path / "home"), *words]).output.split())
        assert "kein Teil für diese Spalte: das Layout lassen, wie es ist" in told
        assert "Bemerkungen" in told
        assert "no part" not in told
