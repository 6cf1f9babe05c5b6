"""The sample families' reports: what `report --json` says is what stands on paper, on the page and in the mail."""

import json
import re
from email import message_from_bytes, policy
from pathlib import Path

import jsonschema
import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from gramrise.cli.main import app
from gramrise.report.weekly.numbers.view import WeeklyView
from gramrise.report.weekly.pages.mail import compose
from gramrise.report.weekly.pages.pdf import render_pdf
from gramrise.report.weekly.pages.plain_text import render_text
from gramrise.report.words import words_for

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The folder of a demo that was run."""
    folder = tmp_path_factory.mktemp("reports") / "demo"
    ran = CliRunner().invoke(app, ["demo", str(folder)], catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    return folder


def _typed(demo, *words):
    ran = CliRunner().invoke(app, ["--home", str(demo / "home"), *words], catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    return ran.stdout


def _written(demo, person):
    """(the view as --json prints it, the PDF's pages, the HTML) of the week that the demo wrote."""
    (pdf,) = (demo / "reports").glob(f"{person}-*.pdf")
    week_end = re.search(r"\d{4}-\d\d-\d\d", pdf.name).group()
    view = WeeklyView.model_validate_json(_typed(demo, "report", "--person", person, "--week-end", week_end, "--json"))
    pages = [page.extract_text() for page in PdfReader(pdf).pages]
    return view, pages, Path(pdf).with_suffix(".html").read_text("utf-8")


@pytest.mark.parametrize("person", ["robin", "kim"])
def test_page_one_of_paper_and_screen_carries_the_numbers_of_the_json(demo, person):
    view, pages, html = _written(demo, person)
    words = words_for(view.language, view.unit, view.zone)
    factors = json.loads(_typed(demo, "factors", "--person", person, "--json"))["factors"]
    assert len(factors) == len(view.factors)
    for row in factors:
        middle, low, high = words.factor(
            row["factor_mg_dl_per_g"], row["p05_factor_mg_dl_per_g"], row["p95_factor_mg_dl_per_g"]
        )
        likely = words.say("answer.likely", low=low, high=high)
        assert likely in pages[0]
        assert likely in html
        assert middle in pages[0].split(likely)[0]


@pytest.mark.parametrize("person", ["robin", "kim"])
def test_every_low_of_the_week_has_its_row_and_no_other_has(demo, person):
    view, pages, _ = _written(demo, person)
    words = words_for(view.language, view.unit, view.zone)
    lows = json.loads(_typed(demo, "lows", "--person", person, "--json"))["lows"]
    start, end = view.from_utc.strftime("%Y-%m-%dT%H:%M"), view.to_utc.strftime("%Y-%m-%dT%H:%M")
    week = [low for low in lows if start <= low["start_utc"] < end]
    shown = {low.start_utc for low in (*view.lows, *view.lows_annex)}
    assert len(week) == len(shown)
    whole = "\n".join(pages)
    assert [words.when(at) for at in shown if words.when(at) not in whole] == []


@pytest.mark.parametrize("person", ["robin", "kim"])
def test_the_mail_of_a_family_opens_from_its_file_and_holds_the_same_report(demo, person, tmp_path):
    view, _, _ = _written(demo, person)
    mail = compose(
        view,
        f"{person}.family@example.org",
        message_id="<week@gramrise.example>",
        date=view.written_at_utc,
        sender="report@gramrise.example",
    )
    file = tmp_path / "week.eml"
    file.write_bytes(bytes(mail))
    opened = message_from_bytes(file.read_bytes(), policy=policy.default)
    (pdf,) = [part for part in opened.walk() if part.get_content_type() == "application/pdf"]
    assert pdf.get_content() == render_pdf(view)
    assert opened.get_body(("plain",)).get_content().replace("\r\n", "\n").endswith(render_text(view))


def test_nothing_about_one_family_stands_in_the_others_report(demo):
    robin, kim = _written(demo, "robin"), _written(demo, "kim")
    assert "Kim" not in "".join(robin[1]) + robin[2] + robin[0].model_dump_json()
    assert "Robin" not in "".join(kim[1]) + kim[2] + kim[0].model_dump_json()


def test_the_demo_ends_with_a_review_that_opens_without_a_server(demo):
    pages = {path.name: path.read_text("utf-8") for path in (demo / "review").glob("*.html")}
    assert len(pages) == 1 + 3 * 3
    for person in ("robin", "kim", "noor"):
        assert f'href="person.{person}.html"' in pages["index.html"]
    linked = {link for text in pages.values() for link in re.findall(r'href="([^"#]+\.(?:html|css))', text)}
    assert linked == {*pages, "review.css"}


def test_the_review_as_one_document_keeps_its_schema_and_the_numbers_of_factors(demo):
    told = json.loads(_typed(demo, "review", "--json"))
    jsonschema.validate(told, json.loads(_typed(demo, "schema", "review")))
    assert {person["person_id"] for person in told["persons"]} == {"robin", "kim", "noor"}
    robin = next(person for person in told["persons"] if person["person_id"] == "robin")
    factors = json.loads(_typed(demo, "factors", "--person", "robin", "--json"))["factors"]
    shown = [band["factor_mg_dl_per_g"] for band in robin["factors"]]
    assert shown == [row["factor_mg_dl_per_g"] for row in factors]
    ends = [course["points"][-1]["factor_mg_dl_per_g"] for course in robin["courses"]]
    assert ends == pytest.approx(shown, rel=0.03)


def test_the_review_of_one_person_comes_with_its_paper_and_only_its_owner_can_read_it(demo, tmp_path):
    _typed(demo, "review", "robin", "--to", str(tmp_path / "out"))
    made = sorted(path.name for path in (tmp_path / "out").iterdir())
    pages = [f"{kind}.robin.html" for kind in ("pairings", "person", "visit")]
    assert made == sorted(["index.html", "review.css", "person.robin.pdf", *pages])
    assert {path.stat().st_mode & 0o077 for path in (tmp_path / "out").iterdir()} == {0}
    told = " ".join(page.extract_text() for page in PdfReader(tmp_path / "out" / "person.robin.pdf").pages)
    assert "Robin Example" in told


def test_tables_and_bundles_are_written_for_everybody(demo, tmp_path):
    _typed(demo, "review", "--csv", "--to", str(tmp_path))
    _typed(demo, "review", "--fhir", "--days", "2", "--to", str(tmp_path))
    made = sorted(path.name for path in tmp_path.iterdir())
    ids = ("kim", "noor", "robin")
    assert made == sorted(["panel.csv", *(f"pairings.{one}.csv" for one in ids), *(f"{one}.fhir.json" for one in ids)])
    bundle = json.loads((tmp_path / "robin.fhir.json").read_text("utf-8"))
    assert bundle["type"] == "transaction"
    assert 500 < len(bundle["entry"]) < 700  # two days of readings every five minutes, and what was found in them
