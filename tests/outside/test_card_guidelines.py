"""What the card gives people of whom nothing is known yet, beside the amounts guidelines publish."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from support.card_people import card, factors, pairings

from gramrise.domain.care_plan import CarePlan
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.report.style import contrast

pytestmark = pytest.mark.outside

NOW = datetime(2026, 11, 24, 12, tzinfo=UTC)
TABLETS = Source("1 g tablets", Form.TABLET, grams_per_piece=1.0, stated_as=StatedAs.ANHYDROUS)


def computed(weight_kg, k_mg_dl_kg_per_g=245.0):
    """Grams of a person whose own number, well measured, is that of published trials (245 / kg), lowest row first."""
    born = date(2010, 1, 1)
    plan = CarePlan(below_54_grams=0.4 * weight_kg, look_again_minutes=15, second_grams=10, approved_on=NOW.date())
    who = Person(
        "p",
        born,
        Dated(((born, ZoneInfo("UTC")),)),
        weights_kg=Dated(((NOW.date(), weight_kg),)),
        care_plan=Dated(((born, plan),)),
    )
    factor = k_mg_dl_kg_per_g / weight_kg
    found = factors(weight_kg=weight_kg, daytime=factor, overnight=factor, event_sd_log=0.45)
    view = card(TABLETS, who, found)
    assert view.withheld == ()
    return [row.cells[0].grams for row in view.rows]


def test_an_adult_measured_like_the_trials_gets_about_the_15_to_20_grams_of_the_guideline():
    # ADA Standards of Care 2024, section 6: 15 to 20 g of glucose below 70 mg/dL; 10 g raised adults by about 40 mg/dL
    # (Wiethop & Cryer 1993).
    lowest, highest = computed(70.0)
    assert 15 <= lowest <= 20
    assert 12 <= highest <= 20


@pytest.mark.parametrize("weight_kg", [15.0, 20.0, 30.0, 50.0])
def test_a_child_measured_like_the_trials_gets_near_the_0_3_g_per_kg_of_the_guideline_and_never_more(weight_kg):
    # ISPAD 2022: 0.3 g/kg for a low.
    offered = list(computed(weight_kg))
    assert offered
    for grams in offered:
        assert 0.2 * weight_kg <= grams <= 0.3 * weight_kg + 1e-9


def test_nobody_gets_an_amount_of_the_weight_table():
    # Before anything is measured the guideline's 0.3 g/kg stands in the care plan; no number of ours takes its place.
    born = date(2010, 1, 1)
    plan = CarePlan(standard_grams=9, below_54_grams=9, look_again_minutes=15, second_grams=9, approved_on=NOW.date())
    who = Person(
        "p",
        born,
        Dated(((born, ZoneInfo("UTC")),)),
        weights_kg=Dated(((NOW.date(), 30.0),)),
        care_plan=Dated(((born, plan),)),
    )
    view = card(TABLETS, who, factors().clear(), pairings(daytime=0, overnight=0))
    assert [cell.grams for row in view.rows for cell in row.cells] == [9.0] * 4


def test_the_contrast_formula_gives_the_published_ratios():
    # W3C, WCAG 2.2: black on white is 21:1; #767676 on white 4.54:1, the lightest grey that passes AA (from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
