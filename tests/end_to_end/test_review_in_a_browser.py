"""The review as a browser shows it: axe-core finds nothing, the keyboard reaches every trace, a phone cuts nothing off.

Needs Chromium and axe-core, as the report's own test in a browser says; without them it skips and says so.
"""

import os
from importlib.util import find_spec
from pathlib import Path

import pytest
from support.browser import CHROMIUM, browser
from support.report_people import NOW
from support.review_people import everyone

from gramrise.report.review.numbers.panel import panel_line, panel_of
from gramrise.report.review.pages.folder import panel_files, person_files
from gramrise.report.review.settings import DEFAULT

IDS = {"signed": "ada", "unsigned": "ben", "german_mmol": "kim", "no_data": "nil", "hostile": "ivo"}
PAGES = ["index", *(f"{kind}.{one}" for one in IDS.values() for kind in ("person", "pairings", "visit"))]


def _axe_core():
    named = os.environ.get("GRAMRISE_AXE_CORE")
    if named:
        return Path(named)
    carriers = [find_spec(name) for name in ("axe_playwright_python", "axe_core_python")]
    files = [Path(package.origin).parent / "axe.min.js" for package in carriers if package and package.origin]
    return next((file for file in files if file.is_file()), None)


pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="NOT RUN: no Chromium on this machine (apt-get install chromium)"),
    pytest.mark.skipif(_axe_core() is None, reason="NOT RUN: axe-core is missing (the report's test says where from)"),
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The review of everybody, as `gramrise review` writes it."""
    made = tmp_path_factory.mktemp("review")
    reviews = [review.model_copy(update={"person_id": IDS[name]}) for name, review in everyone().items()]
    lines = [panel_line(review, DEFAULT) for review in reviews]
    panel = panel_of(lines, language="en", written_at_utc=NOW, settings=DEFAULT)
    for name, text in [*panel_files(panel), *(file for review in reviews for file in person_files(review))]:
        (made / name).write_text(text, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    with browser(tmp_path_factory.mktemp("browser")) as opened:
        opened.size(1100, 900)
        yield opened


def _axe(page):
    page.run(_axe_core().read_text("utf-8") + "; 0")
    rules = '["wcag2a", "wcag2aa", "wcag2aaa", "wcag21aa", "wcag22aa", "best-practice"]'
    return page.run(
        f"axe.run(document, {{runOnly: {rules}}}).then(found => found.violations.map("
        "v => [v.id, v.help, v.nodes.slice(0, 3).map(n => n.html)]))"
    )


@pytest.mark.parametrize("name", ["index", "person.ada", "pairings.ada", "visit.ada", "person.kim", "pairings.ivo"])
def test_axe_finds_nothing_to_mend(name, folder, page):
    page.open((folder / f"{name}.html").as_uri())
    assert _axe(page) == []


def test_axe_does_find_planted_faults(folder, page):
    """The check itself is checked."""
    page.open((folder / "index.html").as_uri())
    planted = "<p style='color:#bbb'>pale words</p><img src=x>"
    page.run(f'document.querySelector("main").insertAdjacentHTML("afterbegin", "{planted}")')
    assert {"color-contrast", "image-alt"} <= {fault[0] for fault in _axe(page)}


FOCUSED = """(() => { const e = document.activeElement, look = getComputedStyle(e);
  return [e.tagName, e.textContent.trim(), look.outlineStyle, parseFloat(look.outlineWidth)]; })()"""


def _tab_to(page, wanted, most=200):
    """Presses Tab until something that says `wanted` has the focus; what was passed on the way."""
    passed = []
    for _ in range(most):
        page.press("Tab")
        told = page.run(FOCUSED)
        passed.append(told)
        if told[1] == wanted:
            return passed
    raise AssertionError(f"Tab never came to {wanted!r}: {[each[1] for each in passed]}")


def test_by_the_keyboard_alone_from_the_panel_to_a_trace_in_two_steps(folder, page):
    page.open((folder / "index.html").as_uri())
    _tab_to(page, "Mia Beispiel")
    page.press("Enter")
    page.until("location.href.includes('person.') && document.readyState === 'complete'")
    day = page.run("document.querySelector('th a[href^=pairings]').textContent")
    _tab_to(page, day)
    page.press("Enter")
    page.until("location.hash.startsWith('#t2026') && document.readyState === 'complete'")
    seen = page.run("document.querySelector(':target h3').textContent")
    top = page.run("document.querySelector(':target').getBoundingClientRect().top")
    assert seen == day
    assert 0 <= top < 900


def test_every_stop_of_the_keyboard_can_be_seen_and_the_first_skips_to_the_text(folder, page):
    page.open((folder / "person.ada.html").as_uri())
    day = page.run("document.querySelector('th a[href^=pairings]').textContent")
    stops = _tab_to(page, day)
    assert stops[0][1] == "Skip to the page's text"
    assert len(stops) > 6
    assert {(tag, style) for tag, _, style, width in stops if style == "none" or width < 2} == set()


@pytest.mark.parametrize("name", PAGES)
def test_at_the_width_of_a_phone_nothing_is_cut_off(name, folder, page):
    page.size(360, 800)
    page.open((folder / f"{name}.html").as_uri())
    wide = page.run(
        "[document.documentElement.scrollWidth, [...document.querySelectorAll('main *:not(svg *):not(svg)')].filter("
        "e => e.getBoundingClientRect().right > 361 && !e.closest('thead') && !e.closest('.course'))"
        ".map(e => e.tagName + ': ' + e.textContent.slice(0, 40))]"
    )
    page.size(1100, 900)
    assert wide == [360, []]


def test_no_link_of_the_folder_leads_nowhere(folder, page):
    """Every address is a file of the folder, and every part of one is there."""
    known = {file.name for file in folder.iterdir()}
    parts, asked = {}, set()
    for name in sorted(known - {"review.css"}):
        page.open((folder / name).as_uri())
        parts[name] = set(page.run("[...document.querySelectorAll('[id]')].map(e => e.id)"))
        links = page.run("[...document.links].map(a => a.href.split('/').pop())")
        asked |= {(link.partition("#")[0] or name, link.partition("#")[2]) for link in links}
    assert len(asked) > 40
    assert {file for file, _ in asked} <= known
    assert {(file, part) for file, part in asked if part and part not in parts[file]} == set()


def test_nothing_of_a_hostile_name_runs(folder, page):
    for name in ("index", "person.ivo", "pairings.ivo", "visit.ivo"):
        text = (folder / f"{name}.html").read_text("utf-8")
        assert "<script" not in text
        assert "&lt;script&gt;" in text
        page.open((folder / f"{name}.html").as_uri())
        assert page.run("document.scripts.length") == 0
