"""What all treatments of a person share does not average out."""

import numpy as np
import polars as pl
import pytest

from gramrise.estimate.answer.candidate_uncertainty import exponent_sd_log, offset_sd_log

KG, TABLE_FACTOR = 40.0, 8.0
REFERENCE = 0.15 * KG
BANDS = ("daytime", "overnight")


def treatments(count, grams=REFERENCE, band="daytime"):
    used = pl.DataFrame(
        {
            "grams": [float(grams)] * count,
            "weight_kg": [KG] * count,
            "band": [band] * count,
            "factor_sd_mg_dl_per_g": [2.0] * count,
        }
    )
    return used, np.full(count, TABLE_FACTOR)


def test_at_the_reference_amount_the_exponent_leaves_no_doubt():
    used, table = treatments(30)
    assert exponent_sd_log(0.15, used, table, BANDS).tolist() == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize("times", [0.5, 2.0])
def test_at_half_or_twice_the_reference_amount_many_treatments_leave_a_tenth(times):
    """0.15 x log 2 is 0.104; the table's part in the answer keeps a little of it away."""
    used, table = treatments(200, times * REFERENCE)
    assert exponent_sd_log(0.15, used, table, BANDS)[0] == pytest.approx(0.104, rel=0.03)


def test_more_treatments_do_not_average_out_a_path_that_is_off():
    """3 mg/dL in every rise of 48 mg/dL is a sixteenth."""
    many = offset_sd_log(3.0, *treatments(400), BANDS, np.zeros(2))
    assert many[0] == pytest.approx(3.0 / (REFERENCE * TABLE_FACTOR), rel=0.03)
    assert offset_sd_log(3.0, *treatments(2), BANDS, np.zeros(2))[0] < many[0]


def test_it_weighs_more_on_a_small_factor_and_not_on_a_band_without_treatments():
    low = offset_sd_log(3.0, *treatments(30), BANDS, np.array([-0.7, 0.0]))
    high = offset_sd_log(3.0, *treatments(30), BANDS, np.array([0.7, 0.0]))
    assert low[0] > 3 * high[0] > 0
    assert low[1] == 0.0
