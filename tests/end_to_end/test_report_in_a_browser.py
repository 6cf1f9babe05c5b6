"""The report as a browser shows it: axe-core finds nothing that keeps people from reading it.

Needs Chromium and axe-core: a package that carries it (axe-core-python, or the newer axe-playwright-python installed
with --no-deps), or its file named by GRAMRISE_AXE_CORE. Without them it skips and says so.
"""

import json
import os
import re
import shutil
import subprocess
from dataclasses import replace
from html import escape, unescape
from importlib.util import find_spec
from pathlib import Path

import polars as pl
import pytest
from support.report_people import BORN, FOUR_BANDS, TABLETS, Case, a_week, everyone, person

from gramrise.domain.person import Dated
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.pages.html import html_of, render_html

PEOPLE = everyone()
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
RUN_AXE = """
<script>%s</script>
<script>
axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21aa", "wcag22aa", "best-practice"]}).then(found => {
  const told = document.createElement("pre");
  told.id = "axe-found";
  told.textContent = JSON.stringify(found.violations.map(v => [v.id, v.help, v.nodes.map(n => n.html)]));
  document.body.appendChild(told);
});
</script>
"""


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
    pytest.mark.skipif(_axe_core() is None, reason="NOT RUN: axe-core is missing (see the module's first lines)"),
]


def _found(html, folder):
    shown = _shown(html.replace("</body>", RUN_AXE % _axe_core().read_text("utf-8") + "</body>"), folder)
    told = re.search(r'<pre id="axe-found">(.*?)</pre>', shown, re.S)
    assert told, "axe-core did not finish"
    return json.loads(unescape(told.group(1)))


def _shown(html, folder):
    """The page as the browser holds it after its scripts ran."""
    page = folder / "report.html"
    page.write_text(html, encoding="utf-8")
    return subprocess.run(
        [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'browser'}",
         "--virtual-time-budget=20000", "--dump-dom", page.as_uri()],
        capture_output=True, text=True, timeout=120, check=True,
    ).stdout  # fmt: skip


@pytest.mark.parametrize("name", ["german_mmol_60_lows", "hostile_name"])
def test_axe_finds_nothing_to_mend_in_the_page(name, tmp_path):
    assert _found(render_html(PEOPLE[name].view()), tmp_path) == []


def test_axe_finds_nothing_to_mend_in_the_html_of_the_mail(tmp_path):
    document = document_of(PEOPLE["plain"].view())
    assert _found(html_of(document, {"week": "week@x", "factors": "factors@x"}), tmp_path) == []


def test_axe_does_find_planted_faults(tmp_path):
    """The check itself is checked: low contrast and a picture without words must be found."""
    html = render_html(PEOPLE["no_lows"].view())
    planted = html.replace("</main>", '<p style="color:#bbb">pale</p><img src="x.png"></main>')
    assert {"color-contrast", "image-alt"} <= {fault[0] for fault in _found(planted, tmp_path)}


MEASURE_WIDTH = """
<script>
const told = document.createElement("pre");
told.id = "widths";
const over = [...document.querySelectorAll("main *:not(svg *)")].filter(e =>
  e.getBoundingClientRect().right > innerWidth + 0.5 && getComputedStyle(e).position !== "absolute"
  && !e.closest("thead"));
const names = over.map(e => e.tagName + ": " + e.textContent.slice(0, 40));
told.textContent = JSON.stringify([document.documentElement.scrollWidth, names]);
document.body.appendChild(told);
</script>
"""


LONG_WORD = "Donaudampfschifffahrtsgesellschaftskapitaensmuetze"


def long_words():
    """A child whose names, bands and glucose are each one word of a length that no phone holds in a line."""
    glucose = replace(TABLETS, name=LONG_WORD)
    bands = tuple(replace(band, name=f"{LONG_WORD} {band.name}") for band in FOUR_BANDS)
    inputs, found = a_week(
        person(name=2 * LONG_WORD, bands=Dated(((BORN, bands),)), sources=Dated(((BORN, (glucose,)),)))
    )
    doses = inputs.doses.with_columns(source=pl.lit(LONG_WORD))
    return Case(replace(inputs, doses=doses), found)


@pytest.mark.parametrize("width", [320, 360, 560])
@pytest.mark.parametrize("name", ["plain", "german_mmol_60_lows", "four_bands", "hostile_name", "long_words"])
def test_at_the_width_of_a_phone_no_table_is_cut_off(name, width, tmp_path):
    """The page is shown in a frame of so many pixels, as a browser's own window does not go as narrow everywhere."""
    document = document_of((PEOPLE[name] if name in PEOPLE else long_words()).view())
    inner = html_of(document, {"week": "week@x", "factors": "factors@x"}).replace("</body>", MEASURE_WIDTH + "</body>")
    frame = f'<!DOCTYPE html><iframe id="phone" width="{width}" height="800" srcdoc="{escape(inner)}"></iframe>'
    read = """<script>document.getElementById("phone").onload = e => {
      document.body.append(e.target.contentDocument.getElementById("widths")); };</script>"""
    told = re.search(r'<pre id="widths">(.*?)</pre>', _shown(frame + read, tmp_path), re.S)
    assert told, "the page did not finish"
    wide, over = json.loads(unescape(told.group(1)))
    assert (width > 520 and name == "long_words") or over == []  # a wider window scrolls a table within the page
    assert wide <= width
