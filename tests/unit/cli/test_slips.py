"""Slips of the pen that a stranger made in typed facts: each is refused or asked about before it can count."""

import json
import re
from datetime import UTC, datetime

import pytest
from typer.testing import CliRunner

from gramrise.cli.context import Household
from gramrise.cli.main import app


@pytest.fixture
def typed(tmp_path):
    """Runs commands in a home with one child of 31.5 kg and one candy."""

    def run(*words):
        return CliRunner().invoke(app, ["--home", str(tmp_path), *words])

    run("person", "add", "mira", "--born", "2016-04-02", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    run("person", "source", "mira", "candy", "--form", "tablet", "--grams-per-piece", "1", "--stated-as", "anhydrous")
    return run


def given(typed):
    rows = json.loads(typed("treatments", "--json").stdout)["treatments"]
    return [row["grams"] for row in rows]


def test_a_second_amount_in_the_same_minute_never_replaces_the_first(typed):
    assert typed("give", "3 pieces", "--at", "2026-01-05 01:00").exit_code == 0
    second = typed("give", "2 pieces", "--at", "2026-01-05 01:00")
    assert second.exit_code != 0
    assert "nothing changed" in str(second.exception)
    assert given(typed) == [3.0]


@pytest.mark.parametrize("grams", ["10", "0.1", "0.4"])
def test_a_strength_far_from_the_one_before_is_refused_unless_it_is_meant(typed, grams):
    words = ("person", "source", "mira", "candy", "--form", "tablet", "--grams-per-piece", grams)
    refused = typed(*words)
    assert refused.exit_code != 0
    assert "far from it" in str(refused.exception)
    assert typed(*words, "--meant").exit_code == 0


def test_an_unusual_strength_of_a_new_source_is_refused_unless_it_is_meant(typed):
    words = ("person", "source", "mira", "tin", "--form", "tablet", "--grams-per-piece", "15")
    assert "unusual" in str(typed(*words).exception)
    assert typed(*words, "--meant").exit_code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--standard-grams", "0.8"), "contradict each other"),
        (("--second-grams", "60"), "contradict each other"),
        (("--standard-grams", "1", "--least-grams", "1"), "far from what the body weight"),
    ],
)
def test_a_plan_amount_that_cannot_be_meant_is_asked_about_and_withholds_the_card(typed, words, said):
    whole = ("--standard-grams", "8", "--below-54-grams", "12", "--least-grams", "4", "--most-grams", "12")
    look = (
        "--second-grams",
        "6",
        "--look-again-minutes",
        "15",
        "--approved-by",
        "Dr Ada",
        "--approved-on",
        "2026-01-05",
    )
    assert typed("person", "plan", "mira", *whole, *look).exit_code == 0
    assert said in " ".join(typed("person", "plan", "mira", *words).output.split())
    card = typed("card", "--source", "candy", "--look")
    assert card.exit_code == 1
    assert said in " ".join(card.output.split())


def test_a_plan_approved_on_a_day_to_come_is_refused(typed):
    refused = typed("person", "plan", "mira", "--standard-grams", "8", "--approved-on", "2099-01-01")
    assert "still to come" in str(refused.exception)


def test_what_a_number_lacks_is_the_same_each_time_it_is_looked_at(typed):
    for hour in range(3):
        typed("give", "3 pieces", "--at", f"2026-01-0{hour + 5} 15:00")
    first, second = (typed("factors").output for _ in range(2))
    assert "lacks" in first
    assert first == second


def test_another_strength_needs_the_day_from_which_it_holds_so_that_what_was_logged_stays(typed):
    typed("give", "6 pieces", "--at", "2026-01-05 01:00")
    stated = ("--form", "tablet", "--grams-per-piece", "1.5", "--stated-as", "anhydrous")
    words = ("person", "source", "mira", "Candy", *stated)
    refused = typed(*words)
    assert "since when does it hold 1.5?" in str(refused.exception)
    assert typed(*words, "--from", "2026-02-01").exit_code == 0
    assert given(typed) == [6.0]
    assert typed(*words, "--meant").exit_code == 0
    assert given(typed) == [9.0]


GEL = ("person", "source", "mira", "gel", "--form", "gel")


def gel_given(typed):
    assert typed(*GEL, "--grams-per-piece", "10").exit_code == 0
    assert typed("give", "1 gel", "--at", "2026-01-05 02:10").exit_code == 0


def test_a_source_counted_in_pieces_until_now_is_not_counted_in_ml_without_the_day_from_which_it_is(typed):
    """The way from pieces to mL and back to pieces of twice the strength asked nothing, and 10 g became 20."""
    gel_given(typed)
    asked = typed(*GEL, "--grams-per-ml", "0.5")
    assert asked.exit_code != 0
    assert "stated per piece until now, and is stated per mL now" in str(asked.exception)
    assert "--from DATE" in str(asked.exception)
    assert typed(*GEL, "--grams-per-ml", "0.5", "--meant").exit_code == 0
    assert given(typed) == [10.0]
    back = typed(*GEL, "--grams-per-piece", "20")
    assert "stated per mL until now, and is stated per piece now" in str(back.exception)
    assert typed(*GEL, "--grams-per-piece", "10", "--from", "2026-03-01").exit_code == 0
    assert given(typed) == [10.0]


def test_a_strength_per_piece_is_compared_with_the_latest_per_piece_though_ml_were_stated_since(typed):
    gel_given(typed)
    assert typed(*GEL, "--grams-per-ml", "0.5", "--from", "2026-02-01").exit_code == 0
    twice = typed(*GEL, "--grams-per-piece", "20", "--from", "2026-03-01")
    assert "held 10 g per piece until now, 20 is far from it" in str(twice.exception)
    assert typed(*GEL, "--grams-per-piece", "12", "--from", "2026-03-01").exit_code == 0
    assert given(typed) == [10.0]


def test_a_source_not_used_since_a_day_and_stated_again_keeps_the_grams_logged_before(typed):
    gel_given(typed)
    assert typed("person", "source", "mira", "gel", "--gone", "--from", "2026-02-01").exit_code == 0
    assert "far from it" in str(typed(*GEL, "--grams-per-piece", "20").exception)
    assert "since when does it hold 12?" in str(typed(*GEL, "--grams-per-piece", "12").exception)
    assert given(typed) == [10.0]


def test_an_id_or_a_source_that_differs_by_a_capital_is_the_same(typed):
    again = typed("person", "add", "Mira", "--born", "2016-04-02", "--zone", "Europe/Berlin")
    assert "'mira' is known already" in str(again.exception)
    typed("person", "source", "mira", "CANDY", "--form", "tablet", "--grams-per-piece", "1", "--stated-as", "anhydrous")
    assert "CANDY" not in typed("person", "list").output


BARE_TIMES = "time,glucose (mg/dL)\n" + "".join(f"2026-01-05 20:{5 * i:02},{110 - i}\n" for i in range(6))
CHICAGO = ("person", "set", "mira", "--zone", "America/Chicago", "--from", "2026-01-01")


def brought(typed, tmp_path):
    (tmp_path / "trace.csv").write_text(BARE_TIMES)
    assert typed("import", str(tmp_path / "trace.csv"), "--person", "mira").exit_code == 0


def first_reading(typed):
    return json.loads(typed("readings", "--json").stdout)["readings"][0]["time_utc"]


def test_a_zone_told_late_names_what_was_read_on_the_old_clock_and_reading_it_anew_mends_it(typed, tmp_path):
    brought(typed, tmp_path)
    assert first_reading(typed).startswith("2026-01-05T19:00")
    told = " ".join(typed(*CHICAGO).stderr.split())
    assert "the clock of Europe/Berlin" in told
    number = told.split("bring it again: ")[1].split(" ")[0]
    assert typed("undo", number).exit_code == 0
    brought(typed, tmp_path)
    assert first_reading(typed).startswith("2026-01-06T02:00")


def test_a_zone_taken_back_names_only_what_was_read_on_its_clock(typed, tmp_path):
    typed(*CHICAGO)
    number = re.search(r"(\d+) ", typed("undo").stdout.split("what")[-1])[1]
    assert "trace.csv" not in typed("undo", number).stderr
    typed(*CHICAGO)
    brought(typed, tmp_path)
    told = " ".join(typed("undo", str(int(number) + 1)).stderr.split())
    assert "the clock of America/Chicago" in told
    assert "file trace.csv (6 rows)" in told


@pytest.mark.parametrize(
    "told",
    [
        ("person", "set", "mira", "--zone", "America/Chicago"),
        ("person", "set", "mira", "--zone", "Europe/Berlin", "--from", "2026-01-01"),
    ],
)
def test_a_zone_that_changes_nothing_logged_names_nothing(typed, tmp_path, told):
    brought(typed, tmp_path)
    assert typed("give", "3 pieces").exit_code == 0
    said = typed(*told).stderr
    assert "the clock of" not in said
    assert "trace.csv" not in said


def test_an_amount_typed_with_its_time_of_day_is_named_too(typed):
    typed("give", "3 pieces", "--at", "2026-01-05 01:00")
    assert "glucose given: 3" in " ".join(typed(*CHICAGO).stderr.split())


@pytest.fixture
def said_at(tmp_path, monkeypatch):
    """Sets the clock; gives what types words into a home and returns all it says."""

    def at(now_utc):
        monkeypatch.setattr(Household, "now_utc", lambda _: now_utc)

        def said(*words):
            done = CliRunner().invoke(app, ["--home", str(tmp_path), *words])
            return " ".join(done.output.split())

        return said

    return at


def test_a_zone_further_west_says_what_holds_only_from_tomorrow_by_its_clock(said_at):
    """At half past three in Berlin it is still yesterday in New York: plan and weight typed today were 'not known'."""
    said = said_at(datetime(2026, 11, 28, 2, 30, tzinfo=UTC))

    said("person", "add", "emil", "--born", "2016-02-03", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    said("person", "plan", "emil", "--standard-grams", "8")
    told = said("person", "set", "emil", "--zone", "America/New_York")
    assert "today is 27 Nov 2026; what was stated from 28 Nov 2026 on holds from then" in told
    assert "care plan" in told
    assert "holds from then" in told
    assert "holds from then" not in said("person", "set", "emil", "--zone", "Europe/Berlin")


def test_a_zone_set_on_the_day_of_a_journey_says_from_when_its_clock_is_read(said_at):
    """All of that day was moved by six hours without a word, what was given at home before the flight too."""
    said = said_at(datetime(2026, 11, 3, 21, 30, tzinfo=UTC))

    said("person", "add", "tom", "--born", "2016-02-03", "--zone", "Europe/Berlin", "--weight-kg", "31.5")
    told = said("person", "set", "tom", "--zone", "America/New_York")
    assert "Times of 03 Nov 2026 are read by this clock from its midnight on" in told
    assert "midnight" not in said("person", "set", "tom", "--target-mg-dl", "120")
