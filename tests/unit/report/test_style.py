"""The look: readable in contrast, and in black and white nothing is lost."""

import re
from itertools import pairwise

import pytest
from support.report_people import everyone

from gramrise.report.style import INK, PALETTE, PAPER, QUIET, TINT, contrast
from gramrise.report.weekly.chapters.week_picture import week_picture
from gramrise.report.words import words_for

PEOPLE = everyone()


@pytest.mark.parametrize(("one", "other", "ratio"), [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.478)])
@pytest.mark.outside
def test_contrast_is_that_of_the_wcag_formula(one, other, ratio):
    """21:1 for black on white stands in WCAG 2.2 itself; #777 on white at 4.48:1 is the well-known near miss of 4.5."""
    assert contrast(one, other) == pytest.approx(ratio, abs=0.001)


@pytest.mark.parametrize("text", [INK, QUIET])
@pytest.mark.parametrize("ground", [PAPER, TINT])
def test_every_text_colour_has_seven_to_one_on_every_ground(text, ground):
    assert contrast(text, ground) >= 7.0  # WCAG 2.2, success criterion 1.4.6 (AAA)


def test_there_is_no_colour_to_lose():
    assert PALETTE
    for name, value in PALETTE.items():
        assert value[1:3] == value[3:5] == value[5:7], name


@pytest.mark.parametrize("name", PEOPLE)
def test_nothing_in_a_strip_lies_outside_the_picture(name):
    view = PEOPLE[name].view()
    picture = week_picture(view, words_for(view.language, view.unit, view.zone))
    for svg in (picture.svg, picture.narrow_svg):
        width, height = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg).groups())
        texts = re.findall(
            r'<text x="([-\d.]+)" y="([-\d.]+)" font-size="([\d.]+)" fill="[^"]+" text-anchor="(\w+)"[^>]*>([^<]*)<',
            svg,
        )
        assert texts
        for x, y, points, anchor, told in texts:
            length = 0.55 * float(points) * len(told)  # a figure's width in the book face
            left = float(x) - {"start": 0, "middle": length / 2, "end": length}[anchor]
            assert left >= -0.5, told
            assert left + length <= width + 2, told
            assert float(points) * 0.7 <= float(y) <= height, told
        for x, y in re.findall(r"([-\d.]+),([-\d.]+)", " ".join(re.findall(r'points="([^"]+)"', svg))):
            assert 0 <= float(x) <= width
            assert 0 <= float(y) <= height


@pytest.mark.parametrize("name", ["plain", "german_mmol_60_lows"])
def test_grams_given_close_together_do_not_overlap(name):
    view = PEOPLE[name].view()
    strips = tuple(
        strip.model_copy(update={"doses": tuple(d.model_copy(update={"minute": 1400.0 + k}) for k in range(6))})
        for strip in view.strips
        for d in strip.doses[:1]
    )
    crowded = view.model_copy(update={"strips": strips, "days": view.days[: len(strips)]})
    svg = week_picture(crowded, words_for(view.language, view.unit, view.zone)).svg
    found = re.findall(r'<text x="([-\d.]+)" y="([-\d.]+)"[^>]*stroke=[^>]*>([^<]*)<', svg)
    neighbours = [(left, right) for left, right in pairwise(found) if left[1] == right[1]]
    assert neighbours
    for (x1, _, told), (x2, _, _) in neighbours:
        assert float(x2) - float(x1) >= len(told) * 8.5 * 0.55


def test_the_alternative_text_tells_every_night():
    view = PEOPLE["plain"].view()
    alt = week_picture(view, words_for("en", "mg/dL", view.zone)).alt
    assert alt.count("low") >= 7
    assert "Sun 15 Nov: 1 low; 5.5\u00a0g of glucose." in alt
