"""Units against a chemistry package, and the starting tables against what is taught."""

import periodictable
import pytest

from gramrise.domain.starting import BAND_SD_LOG, PERSON_SD_LOG, TAUGHT, TRIALS
from gramrise.domain.units import (
    GLUCOSE_PER_MONOHYDRATE,
    KG_PER_LB,
    MG_DL_PER_MMOL_L,
    GlucoseUnit,
    pounds_to_kg,
    to_mg_dl,
)

pytestmark = pytest.mark.outside


def test_a_mmol_per_litre_is_a_tenth_of_the_molar_mass_of_glucose():
    # periodictable: IUPAC atomic weights. 1 mmol/L = M mg/L = M/10 mg/dL.
    assert pytest.approx(periodictable.formula("C6H12O6").mass / 10, rel=1e-4) == MG_DL_PER_MMOL_L


def test_a_gram_of_dextrose_monohydrate_holds_0_909_g_of_glucose():
    ratio = periodictable.formula("C6H12O6").mass / periodictable.formula("C6H12O6(H2O)").mass
    assert pytest.approx(ratio, rel=1e-4) == GLUCOSE_PER_MONOHYDRATE


def test_the_consensus_thresholds_in_mmol_per_litre():
    # International consensus (Danne 2017; Battelino 2019): 3.9 and 3.0 mmol/L stand for 70 and 54 mg/dL.
    assert [round(v / MG_DL_PER_MMOL_L, 1) for v in (70, 54)] == [3.9, 3.0]
    assert to_mg_dl(3.9, GlucoseUnit.MMOL_L) == pytest.approx(70.26, abs=0.01)


@pytest.mark.parametrize(("pounds", "factor"), [(70, 10), (140, 5), (280, 2.5)])
def test_the_taught_table_is_the_inverse_with_weight_rule(pounds, factor):
    # Common practice, no source: 5 mg/dL per g at 140 lb, inverse with weight.
    assert TAUGHT.factor_mg_dl_per_g(pounds * KG_PER_LB) == pytest.approx(factor, rel=0.001)


def test_a_little_over_200_lb_means_three_and_a_third_to_four_mg_dl_per_gram_on_the_taught_table():
    # Common practice, no source ("a little over 200 lb"; 175 lb is where the same table says 4).
    assert 3.3 <= TAUGHT.factor_mg_dl_per_g(205 * KG_PER_LB) <= 4.0
    assert 3.3 <= TAUGHT.factor_mg_dl_per_g(211 * KG_PER_LB) <= 4.0


@pytest.mark.parametrize(("pounds", "factor"), [(200, 3), (150, 4), (100, 5)])
def test_other_taught_tables_lie_between_three_quarters_of_the_trials_and_the_taught_table(pounds, factor):
    # Walsh & Roberts, education page of the pump textbook's authors: 3 / 4 / 5 at 200 / 150 / 100 lb.
    # Their k are 272, 272, 227: inside the prior's central half about the trials' middle, below the taught table.
    k = factor * pounds * KG_PER_LB
    assert 0.75 * TRIALS.k_mg_dl_kg_per_g < k < TAUGHT.k_mg_dl_kg_per_g


@pytest.mark.parametrize(("pounds", "low", "high"), [(50, 6, 10), (80, 5, 5), (130, 4, 4), (190, 3, 3), (240, 2, 2)])
def test_the_clinic_band_table_lies_inside_the_priors_central_95_percent(pounds, low, high):
    # Clinic education page (bands also printed in Scheiner, Think Like a Pancreas; attribution from memory).
    spread = 2.718281828 ** (1.96 * (PERSON_SD_LOG**2 + BAND_SD_LOG**2) ** 0.5)
    for factor in (low, high):
        k = factor * pounds * KG_PER_LB
        assert TRIALS.k_mg_dl_kg_per_g / spread < k < TRIALS.k_mg_dl_kg_per_g * spread


def test_seventy_pounds_are_31_75_kg():
    # NIST Special Publication 811, appendix B.8: 1 lb (avoirdupois) = 0.45359237 kg, exactly.
    assert pounds_to_kg(70.0) == pytest.approx(31.7514659)
