"""What one treatment says about the level, against plain numerical integration."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import CubicSpline
from scipy.stats import norm
from scipy.stats import t as student_t

from gramrise.estimate.compiled import tilted_moments
from gramrise.estimate.levels.scatter import AXIS, log_likelihood, scatter_mass, scatter_scale

approx = pytest.approx


@pytest.mark.parametrize(("ratio", "sd"), [(1.0, 0.3), (2.5, 0.2), (-0.4, 0.6), (0.1, 0.1), (1.0, 0.05)])
@pytest.mark.parametrize("event_sd", [0.25, 0.45, 0.8])
def test_the_treatments_own_factor_is_integrated_out(ratio, sd, event_sd):
    scale = scatter_scale(np.array(event_sd), 5.0)
    table = log_likelihood(np.array([ratio]), np.array([sd]), scatter_mass(np.array([event_sd]), 5.0))[0, 0]
    for level in (-0.5, 0.0, 0.7):
        whole, _ = quad(
            lambda own, level=level: norm.pdf(ratio, np.exp(own), sd) * student_t.pdf((own - level) / scale, 5) / scale,
            -12, 6, points=[level, np.log(max(ratio, 0.05))], limit=400,
        )  # fmt: skip
        found = table[np.argmin(np.abs(AXIS - level))] - 0.5 * np.log(2 * np.pi)
        assert found == approx(np.log(whole), abs=0.02)


def test_a_level_meets_a_likelihood_as_by_numerical_integration():
    table = log_likelihood(np.array([1.8]), np.array([0.4]), scatter_mass(np.array([0.45]), 5.0))[0, 0]
    mean, sd = 0.1, 0.4
    fine = np.linspace(mean - 6 * sd, mean + 6 * sd, 4001)
    product = norm.pdf(fine, mean, sd) * np.exp(CubicSpline(AXIS, table)(fine))
    whole = np.trapezoid(product, fine)
    middle = np.trapezoid(product * fine, fine) / whole
    variance = np.trapezoid(product * (fine - middle) ** 2, fine) / whole
    assert tilted_moments(mean, sd**2, table, AXIS) == approx((np.log(whole), middle, variance), rel=2e-3, abs=2e-3)


def test_a_very_sure_level_is_met_as_well_though_narrower_than_the_axis_steps():
    table = -0.5 * ((AXIS - 0.3) / 0.2) ** 2
    _, middle, variance = tilted_moments(0.11, 0.01**2, table, AXIS)
    exact = 1 / (1 / 0.01**2 + 1 / 0.2**2)
    assert middle == approx(exact * (0.11 / 0.01**2 + 0.3 / 0.2**2), rel=1e-6)
    assert variance == approx(exact, rel=1e-4)
