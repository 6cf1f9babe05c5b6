"""What the card gives people of whom nothing is known yet, beside the amounts guidelines publish."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from gramrise.domain.findings import Findings, Inputs
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.report.card import card_view
from gramrise.report.style import contrast

pytestmark = pytest.mark.outside

NOW = datetime(2026, 11, 24, 12, tzinfo=UTC)
TABLETS = Source("1 g tablets", Form.TABLET, grams_per_piece=1.0, stated_as=StatedAs.ANHYDROUS)


def grams_at_54_to_69(weight_kg):
    born = date(2010, 1, 1)
    who = Person("p", born, Dated(((born, ZoneInfo("UTC")),)), weights_kg=Dated(((NOW.date(), weight_kg),)))
    view = card_view(Inputs(who), Findings(NOW), TABLETS, now_utc=NOW, number=1)
    return [row.cells[0].grams for row in view.rows]


def test_an_adult_not_yet_measured_gets_about_the_15_grams_of_the_guideline():
    # ADA Standards of Care 2024, section 6: 15 to 20 g of glucose below 70 mg/dL; 10 g raised adults by about 40 mg/dL
    # (Wiethop & Cryer 1993), so that 65-69 needs about 10.
    lowest, _, highest = grams_at_54_to_69(70.0)
    assert 12 <= lowest <= 20
    assert 8 <= highest <= 15


@pytest.mark.parametrize("weight_kg", [15.0, 20.0, 30.0, 50.0])
def test_a_child_not_yet_measured_gets_at_most_the_0_3_g_per_kg_of_the_guideline_and_at_least_0_1(weight_kg):
    # ISPAD 2022: 0.3 g/kg for a low; 0.1 g/kg while an automated system runs (Zucchini 2024).
    offered = grams_at_54_to_69(weight_kg)
    assert offered
    for grams in offered:
        assert 0.1 * weight_kg <= grams <= 0.3 * weight_kg + 1e-9


def test_the_contrast_formula_gives_the_published_ratios():
    # W3C, WCAG 2.2: black on white is 21:1; #767676 on white 4.54:1, the lightest grey that passes AA (from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
