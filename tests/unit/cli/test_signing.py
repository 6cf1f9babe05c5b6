"""gramrise sign: the number as a clinician saw it, its history, and what makes it end."""

import json
from contextlib import contextmanager
from datetime import UTC, datetime
from shutil import copytree

import pytest
from typer.testing import CliRunner

from gramrise.cli.context import Household
from gramrise.cli.documents import schema
from gramrise.cli.main import app
from gramrise.domain.problems import WrongUse
from gramrise.store import Store

NOW = datetime(2026, 6, 10, 10, tzinfo=UTC)


@contextmanager
def clock(at):
    """Commands read this instant as now."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Household, "now_utc", lambda _: at)
        yield


def typed(home, *words, status=0):
    result = CliRunner().invoke(app, ["--home", str(home), *words])
    assert result.exit_code == status, result.output + str(result.exception)
    return result.output


def refused(home, *words):
    result = CliRunner().invoke(app, ["--home", str(home), *words])
    assert isinstance(result.exception, WrongUse)
    return str(result.exception)


ADD = "person add ada --born 2016-05-01 --zone Europe/Berlin --weight-kg 32"
SOURCE = "person source ada tablets --form tablet --grams-per-piece 4"


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A child of 32 kg with twelve treatments by day."""
    tmp_path = tmp_path_factory.mktemp("signed")
    with clock(datetime(2026, 5, 1, 10, tzinfo=UTC)):
        typed(tmp_path, *ADD.split())
        typed(tmp_path, *SOURCE.split())
    with clock(NOW):
        readings, given = ["time,glucose (mg/dL)"], ["time,source,amount"]
        for day in range(12):
            for at in range(0, 288):
                minutes = at * 5 - 12 * 60
                falling = max(0, min(90, minutes + 90)) / 90 * 46
                rising = max(0, min(45, minutes - 5))
                value = 110 - falling + rising + (at * 7 + day) % 4
                readings.append(f"2026-05-{10 + day:02}T{at // 12:02}:{at % 12 * 5:02}Z,{value:.0f}")
            given.append(f"2026-05-{10 + day:02}T12:00Z,tablets,2")
        (tmp_path / "r.csv").write_text("\n".join(readings) + "\n")
        (tmp_path / "g.csv").write_text("\n".join(given) + "\n")
        typed(tmp_path, "import", str(tmp_path / "r.csv"), str(tmp_path / "g.csv"))
    return tmp_path


@pytest.fixture
def now():
    with clock(NOW):
        yield


@pytest.fixture
def home(whole, tmp_path):
    return copytree(whole, tmp_path / "home")


@pytest.mark.usefixtures("now")
def test_a_sign_off_keeps_the_number_of_the_screen_and_what_it_rests_on(home):
    said = typed(home, "sign", "ada", "--by", "R. Lindqvist", "--role", "nurse", "--told", "both parents")
    assert "no authentication" in " ".join(said.split())
    (shown,) = json.loads(typed(home, "sign", "ada", "--list", "--json"))["references"]
    factors = json.loads(typed(home, "factors", "--person", "ada", "--json"))["factors"]
    assert [band["factor_mg_dl_per_g"] for band in shown["bands"]] == [row["factor_mg_dl_per_g"] for row in factors]
    assert [band["pairings_used"] for band in shown["bands"]] == [row["pairings_used"] for row in factors]
    assert sum(band["pairings_used"] for band in shown["bands"]) > 5
    assert (shown["number"], shown["as_of"], shown["weight_kg"]) == (1, "2026-06-10", pytest.approx(32, rel=0.02))
    assert (shown["data_from"], shown["data_to"]) == ("2026-05-10", "2026-05-21")
    assert shown["sources"][0]["grams_per_unit"] == 4
    assert (shown["told"], shown["verdict"], shown["ended_by"]) == ("both parents", "accepted", [])


@pytest.mark.usefixtures("now")
def test_the_number_of_a_past_day_knows_nothing_that_came_after_it(home):
    typed(home, "sign", "ada", "--by", "R. Lindqvist", "--as-of", "2026-05-15")
    (shown,) = json.loads(typed(home, "sign", "ada", "--json"))["references"]
    assert shown["data_to"] <= "2026-05-15"
    assert sum(band["pairings_used"] for band in shown["bands"]) <= 6


@pytest.mark.usefixtures("now")
def test_seen_and_not_accepted_is_an_answer_and_history_is_kept(home):
    typed(home, "sign", "ada", "--by", "R. Lindqvist")
    typed(home, "sign", "ada", "--by", "O. Baum", "--not-accepted", "--note", "too few nights")
    typed(home, "sign", "ada", "--withdraw", "1")
    listed = json.loads(typed(home, "sign", "ada", "--list", "--json"))["references"]
    assert [(one["number"], one["verdict"], one["ended_by"]) for one in listed] == [
        (2, "seen_not_accepted", []), (1, "accepted", ["withdrawn"]),
    ]  # fmt: skip
    assert "taken back" in " ".join(typed(home, "sign", "ada", "--list").split())
    assert "no sign-off 1" in refused(home, "sign", "ada", "--withdraw", "1")


def test_a_changed_strength_ends_the_reference(home):
    with clock(NOW):
        typed(home, "sign", "ada", "--by", "R. Lindqvist")
    with clock(datetime(2026, 6, 20, 10, tzinfo=UTC)):
        typed(
            home,
            "person",
            "source",
            "ada",
            "tablets",
            "--form",
            "tablet",
            "--grams-per-piece",
            "3",
            "--from",
            "2026-06-20",
        )
        (shown,) = json.loads(typed(home, "sign", "ada", "--list", "--json"))["references"]
    assert "sources" in shown["ended_by"]


@pytest.mark.usefixtures("now")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "who signs?"),
        (["--by", "  "], "who signs?"),
        (["--by", "R.", "--as-of", "2026-06-11"], "still to come"),
        (["--by", "R.", "--as-of", "2010-01-01"], "not after the day of birth"),
        (["--by", "R.", "--as-of", "2026-05-02"], "no number"),
        (["--by", "R.", "--valid-until", "2026-06-01"], "has passed"),
    ],
)
def test_what_cannot_be_signed_is_refused_and_nothing_is_recorded(home, words, said):
    assert said in refused(home, "sign", "ada", *words)
    with Store.open(home) as store:
        assert store.references_of("ada") == []


@pytest.mark.usefixtures("now")
def test_who_is_forgotten_leaves_no_sign_off(home):
    typed(home, "sign", "ada", "--by", "R. Lindqvist")
    with Store.open(home) as store:
        store.forget("ada")
        assert store.references_of("ada") == []


def test_the_document_is_described():
    assert "references" in json.loads(schema("references"))["properties"]


@pytest.mark.usefixtures("now")
def test_drift_is_measured_from_the_latest_sign_off_that_was_accepted(home):
    typed(home, "sign", "ada", "--by", "R. Lindqvist", "--as-of", "2026-05-15")
    typed(home, "sign", "ada", "--by", "O. Baum", "--as-of", "2026-05-18", "--not-accepted")
    rows = {row["band"]: row for row in json.loads(typed(home, "drift", "--json"))["drift"]}
    assert {row["reference_date"] for row in rows.values()} == {"2026-05-15"}
    assert (rows["daytime"]["pairings_before"], rows["daytime"]["pairings_since"]) == (6, 6)
    assert rows["daytime"]["finding"] == "undecided"  # six treatments are too few to say that nothing changed
    assert rows["daytime"]["ratio_p05"] < rows["daytime"]["growth_ratio"] < rows["daytime"]["ratio_p95"]
    assert rows["overnight"]["finding"] == "nothing_since"
    said = " ".join(typed(home, "drift").split())
    assert said.startswith("Daytime 07:00\u201322:00: 1 g raises")
    assert "signed on 15 May 2026; " in said
    assert "6 treatments since" in said
    assert "Overnight 22:00\u201307:00: no treatment could be used since 15 May 2026, so nothing" in said


@pytest.mark.usefixtures("now")
def test_without_a_sign_off_drift_takes_a_day_and_says_that_nobody_signed_it(home):
    assert "no number is signed yet" in " ".join(typed(home, "drift").split())
    assert "signed" not in typed(home, "drift", "--since", "2026-05-16")
    assert "still to come" in refused(home, "drift", "--since", "2026-07-01")
    assert "not a date" in refused(home, "drift", "--since", "May")
    assert "probability_moved" in schema("drift")
