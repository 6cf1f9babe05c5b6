"""The shipped course of the rise inside what was published of swallowed glucose."""

import pytest

from gramrise.estimate.path.candidates import candidates_of, shipped_parameters
from gramrise.estimate.path.rise_shape import rise_curve
from gramrise.estimate.path_settings import shipped

pytestmark = pytest.mark.outside
SETTINGS = shipped()
TABLETS = rise_curve(shipped_parameters(SETTINGS).shape("tablet"))
ALL = [rise_curve(c.shape("tablet")) for c in candidates_of(SETTINGS)]


def test_the_rise_in_the_blood_is_greatest_at_about_forty_minutes():
    # T01: 40 g in water during a clamp, greatest effect at 40 min (Metabolism 2001, abstract 11145123).
    # R02, R03: peaks by 30 min after 10 g and by 45 min after 20 g (Wiethop & Cryer 1993). R10: older ADA text, alike.
    assert 30 <= TABLETS.minutes_to_peak <= 45


def test_every_candidate_peaks_within_half_an_hour_of_the_published_range():
    assert all(25 <= curve.minutes_to_peak <= 55 for curve in ALL)


def test_the_effect_begins_within_ten_minutes_and_is_clear_by_twenty():
    # T01: first effect 5-10 min after swallowing, significant by 20 min.
    assert TABLETS.blood[5] > 0.02
    assert TABLETS.blood[20] > 0.5


def test_the_level_falls_again_from_about_an_hour():
    # R10: responses fall again from about 60 min.
    assert TABLETS.blood[75] < TABLETS.blood[45]
    assert 0.3 < TABLETS.share_left(90) < 0.95


def test_gel_is_slower_than_tablets_and_tablets_equal_solution():
    # Slama 1990 (Arch Intern Med 150:589): gel had hardly moved by 10 min; tablets as solution at 10 min.
    gel = rise_curve(shipped_parameters(SETTINGS).shape("gel"))
    liquid = rise_curve(shipped_parameters(SETTINGS).shape("liquid"))
    assert gel.blood[10] < 0.75 * TABLETS.blood[10]
    assert liquid.blood[10] == pytest.approx(TABLETS.blood[10], rel=0.1)


def test_ten_to_twenty_grams_raise_less_than_twice():
    # R06: 1.62 times, exponent 0.70, in adults (Wiethop & Cryer 1993); proportional would be 2.
    times = 2 ** shipped_parameters(SETTINGS).exponent
    assert 1.62 <= times < 2.0
