"""Glucose given as people type it: times in the words, forms of unknown content, what is left, who noticed."""

import json
import re
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from typer.testing import CliRunner

from gramrise.cli.context import Household
from gramrise.cli.main import app
from gramrise.domain.person import Dated
from gramrise.domain.problems import WrongUse
from gramrise.intake import clock_alone, without_time
from gramrise.report import in_language
from gramrise.store import Store

ZONES = Dated(((date(2016, 1, 1), ZoneInfo("Europe/Berlin")),))
NOW = datetime(2026, 3, 14, 7, 0, tzinfo=UTC)  # 08:00 in Berlin


def typed(home, *words):
    return CliRunner().invoke(app, ["--home", str(home), *words], catch_exceptions=True)


@pytest.fixture(autouse=True)
def _broad_day(monkeypatch):
    """Late in the morning in Berlin, so that a time of the night that is typed was today whenever the tests run."""
    monkeypatch.setattr(Household, "now_utc", lambda _: datetime(2026, 11, 27, 10, tzinfo=UTC))


@pytest.fixture
def home(tmp_path):
    """A child of 31 kg who has candies of 1 g monohydrate."""
    typed(tmp_path, "person", "add", "mia", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31")
    typed(tmp_path, "person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1",
          "--stated-as", "monohydrate", "--also", "Stück")  # fmt: skip
    return tmp_path


def doses(home):
    with Store.open(home) as store:
        return store.inputs("mia").doses


@pytest.mark.parametrize(
    ("text", "left", "local"),
    [
        ("3 pieces at 2:10", "3 pieces", "2026-03-14 02:10"),
        ("3 pieces at 2:10 am", "3 pieces", "2026-03-14 02:10"),
        ("9:10 PM 3 pieces", "3 pieces", "2026-03-13 21:10"),
        ("3 pieces 9 pm", "3 pieces", "2026-03-13 21:00"),
        ("3 Stück um 2 Uhr 10", "3 Stück", "2026-03-14 02:10"),
        ("um 2.10 Uhr 3 Stück", "3 Stück", "2026-03-14 02:10"),
        ("3 pieces yesterday at 22:30", "3 pieces", "2026-03-13 22:30"),
        ("gestern 6:30 2,5 Stück", "2,5 Stück", "2026-03-13 06:30"),
        ("3 pieces on 2026-03-12 02:10", "3 pieces", "2026-03-12 02:10"),
        ("3 pieces 20 minutes ago", "3 pieces", "2026-03-14 07:40"),
        ("vor 20 Minuten 3 Stück", "3 Stück", "2026-03-14 07:40"),
        ("8 g Traubenzucker um 4 uhr früh", "8 g Traubenzucker", "2026-03-14 04:00"),
        ("3 Stück um 3 Uhr 10 morgens", "3 Stück", "2026-03-14 03:10"),
        ("3 Stück um 4 Uhr nachts", "3 Stück", "2026-03-14 04:00"),
        ("3 Stück um 11 Uhr nachts", "3 Stück", "2026-03-13 23:00"),
        ("3 Stück gestern um 6:30 abends", "3 Stück", "2026-03-13 18:30"),
        ("gestern um 3:10 am Nachmittag 3 Stück", "3 Stück", "2026-03-13 15:10"),
        ("2 Stück um 2.10", "2 Stück", "2026-03-14 02:10"),
        ("2 Stück gegen 2.10 nachts", "2 Stück", "2026-03-14 02:10"),
        ("um 0210 2 Stück", "2 Stück", "2026-03-14 02:10"),
        ("2 candies about 2.10", "2 candies", "2026-03-14 02:10"),
        ("3 pieces at 3:10 in the morning", "3 pieces", "2026-03-14 03:10"),
    ],
)
def test_a_time_in_the_words_counts(text, left, local):
    said = without_time(text, ZONES, NOW)
    assert said.text == left
    assert f"{said.at_utc.astimezone(ZoneInfo('Europe/Berlin')):%Y-%m-%d %H:%M}" == local


@pytest.mark.parametrize(
    "text",
    [
        "3 pieces",
        "2,5 pieces",
        "15 ml night bottle",
        "2.5 pieces",
        "4 g",
        "3 x 4 g",
        "1/2 tablet",
        "1 1/2 tabs",
        "3 pieces at 3.10 mmol/L",
        "um 1500 ml",
        "about 2.25 candies",
        "2.30",
        "3 x 2.50 g",
        "around 2.50 candies",
        "à 2.50 comprimés",
    ],
)
def test_words_without_a_time_stay_as_they_are(text):
    said = without_time(text, ZONES, NOW)
    assert (said.text, said.at_utc) == (text, None)


@pytest.mark.parametrize(
    "text",
    ["3 pieces at 2", "3 pieces an hour ago", "3 Stück vor einer Stunde", "3 pieces yesterday", "3 pieces at 25:10",
     "3 pieces at 2:10 and 2 at 3:10", "vorgestern 2:10 3 Stück", "2 tabs at noon", "2 tabs at midnight",
     "1 Plättchen mittags", "2 Stück um Mitternacht", "3 pieces at quarter past two", "3 Stück um halb drei",
     "4 g Dextrose 23.30", "2.10 3 pieces", "3 tabs this morning", "3 tabs on Nov 24 at 3:10 pm",
     "2 tabs 11/23 5:40 pm", "2 tabs 11/23/2026 6:40 pm"],
)  # fmt: skip
def test_a_time_that_is_spoken_of_and_cannot_be_read_never_becomes_now(text):
    with pytest.raises(WrongUse):
        without_time(text, ZONES, NOW)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("9:10 PM", "21:10"),
        ("21.10", "21:10"),
        ("12:05 am", "00:05"),
        ("12 pm", "12:00"),
        ("2h10", "02:10"),
        ("7", None),
    ],
)
def test_clocks_of_12_and_24_hours_are_read(text, told):
    at = clock_alone(text)
    assert (None if at is None else f"{at:%H:%M}") == told


@pytest.mark.parametrize("text", ["16 Uhr früh", "12 Uhr abends", "0 Uhr abends", "12:10 in the morning"])
def test_a_clock_that_its_part_of_the_day_denies_is_refused(text):
    with pytest.raises(WrongUse, match="is on no clock"):
        without_time(f"3 Stück um {text}", ZONES, NOW)


def test_a_part_of_the_day_that_leaves_the_half_open_is_still_asked_for():
    with pytest.raises(WrongUse, match="may be before noon or after it"):
        without_time("3 Stück um 7 Uhr nachts", ZONES, datetime(2026, 3, 14, 20, 0, tzinfo=UTC))


def test_an_amount_needs_no_quotes_and_the_time_takes_12_hours(home):
    told = typed(home, "give", "3", "pieces", "--at", "9:10 PM")
    assert told.exit_code == 0, told.output
    assert "2.73 g of glucose" in told.output
    assert re.search(r"21:10", told.output)


def test_two_times_that_differ_are_refused(home):
    told = typed(home, "give", "3 pieces at 2:10", "--at", "2:20")
    assert told.exit_code != 0
    assert doses(home).height == 0


@pytest.mark.parametrize("text", ["10 g gel", "gel 10 g", "10 g dextrose gel", "20 g syrup", "15 g drink", "Gel: 10 g"])
def test_grams_of_a_product_are_asked_about_and_count_for_nothing_before_the_answer(home, text):
    told = typed(home, "give", text)
    assert told.exit_code == 1
    assert "or the weight of the product" in " ".join(told.output.split())
    assert doses(home)["grams"].to_list() == [None]


def test_grams_of_a_product_are_glucose_or_less_as_the_family_says(home):
    typed(home, "give", "10 g gel", "--at", "0:10")
    with Store.open(home) as store:
        (asked,) = store.questions("mia")
        assert asked.question.answers == ("g", "grams", "not_glucose")
        store.answer(asked.question_id, "grams:4", "father", datetime.now(UTC))
    assert doses(home)["grams"].to_list() == [4.0]


@pytest.mark.parametrize("amount", ["60 pieces", "40 g"])
def test_more_than_one_treatment_holds_is_asked_about_and_says_how_it_is_meant(home, amount):
    told = typed(home, "give", amount)
    assert told.exit_code == 1
    assert "much for one treatment" in " ".join(told.output.split())
    assert doses(home)["grams"].to_list() == [None]
    with Store.open(home) as store:
        (asked,) = store.questions("mia")
        store.answer(asked.question_id, asked.question.answers[0], "father", datetime.now(UTC))
    assert doses(home)["grams"].to_list() == [pytest.approx(60 * 180.156 / 198.171 if "p" in amount else 40.0)]


@pytest.mark.parametrize("text", ["noch drin: 7 Stück in der Dose", "7 pieces remaining", "il reste 7 Stück"])
def test_what_is_left_is_not_logged_as_given(home, text):
    told = typed(home, "give", text)
    assert told.exit_code == 2 or isinstance(told.exception, WrongUse)
    assert doses(home).height == 0


def test_who_noticed_is_kept_from_the_option_or_the_words(home):
    typed(home, "give", "3 pieces", "--at", "0:10", "--noticed", "child")
    typed(home, "give", "2 pieces, Sensor Alarm", "--at", "0:20")
    typed(home, "give", "1 Stück, Mama hat gemerkt", "--at", "0:30")
    typed(home, "give", "3 pieces felt low", "--at", "0:40")
    typed(home, "give", "4 pieces", "--at", "0:50")
    assert doses(home).sort("amount", "taken_at_utc")["noticed"].to_list() == ["adult", "sensor", "child", "child", ""]
    assert isinstance(typed(home, "give", "3 pieces", "--noticed", "dog").exception, WrongUse)


@pytest.mark.parametrize(
    ("word", "kept"),
    [("Kind", "child"), ("Sensor", "sensor"), ("Erwachsene", "adult"), ("Erwachsener", "adult"),
     ("Erwachsene(r)", "adult"), ("Mama", "adult"), ("adult", "adult")],
)  # fmt: skip
def test_who_noticed_may_be_said_in_german(home, word, kept):
    typed(home, "give", "3 pieces", "--at", "0:10", "--noticed", word)
    assert doses(home)["noticed"].to_list() == [kept]


@pytest.mark.parametrize("word", ["Hund", "nicht das Kind", "Kind oder Sensor"])
def test_what_does_not_say_who_noticed_is_refused_in_german(home, word):
    refused = typed(home, "give", "3 pieces", "--noticed", word).exception
    said = in_language(str(refused), "de")
    assert said == f"„{word}“ sagt nicht, wer es bemerkt hat. Abhilfe: eines von: Kind, Sensor, Erwachsene."
    assert doses(home).height == 0


def test_who_noticed_is_shown_beside_the_treatment(home):
    assert "noticed" not in typed(home, "treatments").output
    typed(home, "give", "3 pieces", "--at", "0:10", "--noticed", "child")
    shown = typed(home, "treatments").output
    assert "noticed" in shown
    assert re.search(r"00:10.*child", shown)
    typed(home, "give", "3 pieces", "--at", "0:50")
    told = json.loads(typed(home, "treatments", "--json").stdout)["treatments"]
    assert [row["noticed"] for row in told] == [["child"]]


def test_a_note_of_a_file_says_who_noticed_and_what_is_left_is_set_aside_by_name(home, tmp_path):
    note = tmp_path / "note.txt"
    note.write_text("2026-03-14\n02:10 3 Stück, Mama hat gemerkt\n03:20 noch drin: 7 Stück in der Dose\n", "utf-8")
    told = typed(home, "import", str(note))
    assert told.exit_code == 1
    assert "says what is left" in " ".join(told.output.split())
    assert doses(home).select("amount", "noticed").rows() == [(3.0, "adult")]


@pytest.mark.parametrize(("answer", "grams"), [("1", [3.0, 4.0, 5.0]), ("2", [3.0, 4.0, 5.0])])
def test_one_answer_holds_for_every_bare_number_of_a_log(home, answer, grams):
    typed(home, "person", "source", "mia", "candy", "--form", "tablet", "--grams-per-piece", "1", "--stated-as",
          "anhydrous", "--also", "Stück", "--meant")  # fmt: skip
    for at, number in (("0:10", "3"), ("0:20", "4"), ("0:30", "5")):
        typed(home, "give", number, "--at", at)
    asked = CliRunner().invoke(app, ["--home", str(home), "ask"], input=f"{answer}\ny\n")
    assert "every bare number of this log" in asked.output
    assert "3 answered" in asked.output
    assert doses(home).sort("taken_at_utc")["grams"].to_list() == grams


@pytest.mark.parametrize(
    "words", ["3 Stück um zwei", "3 pieces at two", "um zwei 3 Stück", "3 pieces à deux heures", "3 pieces a las dos",
              "gegen drei, 3 Stück"],
)  # fmt: skip
def test_a_clock_in_words_never_becomes_now(words):
    with pytest.raises(WrongUse, match="cannot be read for certain"):
        without_time(words, ZONES, NOW)


@pytest.mark.parametrize("words", ["etwa zwei Stück", "about two pieces", "2 pieces at home"])
def test_a_number_of_pieces_is_no_clock(words):
    assert without_time(words, ZONES, NOW).at_utc is None


@pytest.mark.parametrize("when", ["2015-01-02 01:00", "1970-01-02 01:00"])
def test_glucose_given_before_the_birth_is_refused(home, when):
    told = typed(home, "give", "3 pieces", "--at", when)
    assert told.exit_code != 0
    assert "before the birth" in str(told.exception)
    assert doses(home).height == 0


def test_glucose_logged_by_a_clock_that_was_ahead_is_named_by_check(home, monkeypatch):
    monkeypatch.setattr(Household, "now_utc", lambda _: datetime(2027, 1, 2, 10, tzinfo=UTC))
    typed(home, "give", "3 pieces")
    monkeypatch.setattr(Household, "now_utc", lambda _: datetime(2026, 11, 27, 10, tzinfo=UTC))
    assert "data_ahead: mia: readings or glucose are logged up to Sat 02 Jan 2027 11:00" in " ".join(
        typed(home, "check").output.split()
    )


@pytest.mark.parametrize("words", ["3 Stück gestern Nacht 02:10", "3 pieces yesterday night 02:10"])
def test_the_night_of_yesterday_is_two_nights(words):
    with pytest.raises(WrongUse, match="the night just past, or the one before"):
        without_time(words, ZONES, NOW)


def test_yesterday_evening_is_one():
    assert without_time("3 Stück gestern Nacht 23:10", ZONES, NOW).at_utc == datetime(2026, 3, 13, 22, 10, tzinfo=UTC)


@pytest.mark.parametrize("words", ["Tom: 3 pieces", "3 pieces, Tom ate them", "3 pieces (Tom)"])
def test_words_that_name_another_child_of_the_home_are_refused(home, words):
    typed(home, "person", "add", "t2", "--name", "Tom Mair", "--born", "2018-04-02", "--zone", "Europe/Berlin")
    assert typed(home, "give", words, "--person", "mia").exit_code != 0
    assert doses(home).height == 0


@pytest.mark.parametrize(
    ("text", "hour_utc"),
    [
        ("4 pieces at 2026-10-25 02:45+02:00", 0),
        ("4 pieces 2026-10-25 02:45+01:00", 1),
        ("um 02:45+01:00 4 Stück", 1),
        ("um 2:45+02:00 4 Stück", 0),
    ],
)
def test_the_offset_that_tells_an_hour_that_came_twice_may_stand_in_the_words(text, hour_utc):
    """The advice was to write it so, and the words then 'named three times'."""
    said = without_time(text, ZONES, datetime(2026, 10, 25, 7, 35, tzinfo=UTC))
    assert said.text in {"4 pieces", "4 Stück"}
    assert said.at_utc == datetime(2026, 10, 25, hour_utc, 45, tzinfo=UTC)


def test_an_offset_beside_another_day_is_refused():
    with pytest.raises(WrongUse, match="more than one time"):
        without_time("gestern 02:45+01:00 4 Stück", ZONES, datetime(2026, 10, 25, 7, 35, tzinfo=UTC))


@pytest.mark.parametrize(
    "words",
    [
        "4 pieces 02:10-02:20",
        "4 pieces at 02:00-03:00",
        "4 pieces 2026-10-25 02:10-02:20",
        "4 pieces 2026-10-25 02:10+05:00",
        "4 pieces 25:10+02:00",
        "4 pieces 02:10+25:00",
        "4 pieces 2026-02-30 02:10+01:00",
        "4 pieces 0001-01-01 00:10+01:00",
        "4 pieces 2026-07-01 02:10+01:00",  # on the clock of Berlin in July it is +02:00
    ],
)
def test_a_stretch_of_time_or_an_offset_the_clock_never_had_is_no_time(words: str) -> None:
    with pytest.raises(WrongUse, match="no one time"):
        without_time(words, ZONES, datetime(2026, 10, 25, 7, 35, tzinfo=UTC))


@pytest.mark.parametrize("at", ["23:59", "2026-11-26 23:59"])
def test_a_clock_time_alone_that_was_not_yet_today_is_said_to_be_of_the_day_before(home, at):
    """21:10 typed in the morning for 07:10 went to yesterday without a word; who types the day knows it."""
    assert ("That is of the day before" in typed(home, "give", "3", "pieces", "--at", at).output) == (at == "23:59")
    mixed = ("mix", "bottle", "--powder", "anhydrous", "--powder-g", "25", "--made-up-to", "100", "--done", "--at", at)
    assert ("That is of the day before" in typed(home, *mixed).output) == (at == "23:59")
