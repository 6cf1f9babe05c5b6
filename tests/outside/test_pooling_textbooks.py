"""Textbook series through the normal part of the shrinkage that a family's levels run through."""

import numpy as np
import pytest
from support.pooling import filtered_normal, pooled, spreads_between

from gramrise.estimate.levels.filtering import prior_level_state
from gramrise.estimate.levels.hyperparameter_grid import HyperparameterGrid

pytestmark = pytest.mark.outside
approx = pytest.approx

# Rubin 1981; Gelman et al., Bayesian Data Analysis, section 5.5.
SCHOOLS = np.array([28.0, 8, -3, 7, -1, 1, 18, 12])
SCHOOLS_VAR = np.array([15.0, 10, 16, 11, 9, 11, 10, 18]) ** 2
# Nine laboratories: Kacker, Metrologia 2004;41:132.
LABS = np.array([61.0, 61.4, 62.21, 62.3, 62.34, 62.6, 62.7, 62.84, 65.9])
LABS_VAR = np.array([0.2025, 1.21, 0.09, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225])
# BCG trials: Colditz 1994; van Houwelingen 2002 (some rows from memory, proved right by the published intervals).
BCG = np.array(
    [
        [4, 119, 11, 128],
        [6, 300, 29, 274],
        [3, 228, 11, 209],
        [62, 13536, 248, 12619],
        [33, 5036, 47, 5761],
        [180, 1361, 372, 1079],
        [8, 2537, 10, 619],
        [505, 87886, 499, 87892],
        [29, 7470, 45, 7232],
        [17, 1699, 65, 1600],
        [186, 50448, 141, 27197],
        [5, 2493, 3, 2338],
        [27, 16886, 29, 17825],
    ],
    dtype=float,
)
# Hits in the first 45 at-bats of 18 players: Efron & Morris, JASA 1975.
HITS = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]) / 45


def at(between_variance):
    """Pooling with a known variance between levels and an unknown common level."""
    return spreads_between(np.array([between_variance**0.5]))


def q_statistic(values, variances, between_variance):
    common = pooled(values, variances, at(between_variance)).common_mean
    return float(np.sum((values - common) ** 2 / (variances + between_variance)))


def test_eight_schools_pool_completely_to_7_7_with_variance_16_6():
    # BDA section 5.5: 7.7 and 16.6 (rounded data).
    found = pooled(SCHOOLS, SCHOOLS_VAR, at(0.0))
    assert found.common_mean == approx(7.6856, abs=1e-3)
    assert found.common_sd == approx(4.0719, abs=1e-3)


def test_eight_schools_under_flat_priors_shrink_as_in_the_textbook():
    # BDA table 5.3 within its Monte Carlo noise; the digits are an independent numerical integration of the model.
    found = pooled(SCHOOLS, SCHOOLS_VAR, spreads_between(np.arange(0.05, 400.0, 0.1)))
    assert found.mean == approx([11.4, 7.89, 6.13, 7.64, 5.13, 6.14, 10.67, 8.46], abs=0.06)
    assert found.sd == approx([8.34, 6.27, 7.77, 6.55, 6.36, 6.71, 6.79, 7.89], abs=0.08)
    assert found.common_mean == approx(7.93, abs=0.03)
    assert found.spread_mean == approx(6.58, abs=0.08)
    medians_in_the_book = [10, 8, 7, 8, 5, 6, 10, 8]
    assert found.mean == approx(medians_in_the_book, abs=1.5)


def test_eight_schools_with_proper_priors_agree_with_the_common_sampler_reference():
    # mu ~ N(0, 5), tau ~ half-Cauchy(0, 5): mu 4.4 and tau 3.6 (from memory); digits by numerical integration.
    tau = np.arange(0.01, 300.0, 0.05)
    found = pooled(SCHOOLS, SCHOOLS_VAR, spreads_between(tau, common_sd=5.0, prior_log=-np.log1p((tau / 5) ** 2)))
    assert found.mean == approx([6.212, 4.94, 3.927, 4.757, 3.615, 4.043, 6.297, 4.854], abs=0.03)
    assert found.common_mean == approx(4.397, abs=0.02)
    assert found.spread_mean == approx(3.598, abs=0.03)


def test_nine_laboratories_give_the_dersimonian_laird_and_paule_mandel_values():
    # R metafor output as stored in the statsmodels test file, 12 digits.
    weights = 1 / LABS_VAR
    q = q_statistic(LABS, LABS_VAR, 0.0)
    assert q == approx(24.801897741835, rel=1e-7)
    dl = (q - 8) / (weights.sum() - (weights**2).sum() / weights.sum())
    assert dl == approx(0.288049246973751, rel=1e-7)
    found = pooled(LABS, LABS_VAR, at(dl))
    assert (found.common_mean, found.common_sd) == approx((62.3901386044504, 0.245749668040304), rel=1e-6)
    assert found.mean == approx(
        [61.5739, 62.1998, 62.2529, 62.3372, 62.3687, 62.4612, 62.6411, 62.8074, 62.8692], abs=1e-4
    )
    pm = 0.705395309224248
    assert q_statistic(LABS, LABS_VAR, pm) == approx(8.0, rel=1e-6)  # what Paule and Mandel ask for
    found = pooled(LABS, LABS_VAR, at(pm))
    assert (found.common_mean, found.common_sd) == approx((62.4076199113286, 0.338030602684471), rel=1e-6)


def test_bcg_trials_give_the_published_restricted_maximum_likelihood():
    # metafor documentation (recalled, recomputed from the counts): REML tau2 0.3132, mu -0.7145, se 0.1798.
    treated, control = BCG[:, 0] + BCG[:, 1], BCG[:, 2] + BCG[:, 3]
    log_ratio = np.log(BCG[:, 0] / treated) - np.log(BCG[:, 2] / control)
    variance = 1 / BCG[:, 0] - 1 / treated + 1 / BCG[:, 2] - 1 / control
    tau2 = np.arange(0.2, 0.45, 0.0001)
    evidence = pooled(log_ratio, variance, spreads_between(np.sqrt(tau2))).log_evidence
    best = tau2[np.argmax(evidence)]
    assert best == approx(0.3132, abs=2e-4)
    found = pooled(log_ratio, variance, at(best))
    assert (found.common_mean, found.common_sd) == approx((-0.7145, 0.1798), abs=1e-4)
    # DerSimonian-Laird: 0.3088, -0.7141, 0.1787 and Q 152.233.
    assert q_statistic(log_ratio, variance, 0.0) == approx(152.233, abs=1e-2)
    found = pooled(log_ratio, variance, at(0.3088))
    assert (found.common_mean, found.common_sd) == approx((-0.7141, 0.1787), abs=1e-4)


def test_the_first_seven_bcg_log_odds_ratios_are_the_published_ones():
    # metafor web page.
    odds = np.log(BCG[:7, 0] * BCG[:7, 3] / (BCG[:7, 1] * BCG[:7, 2]))
    assert odds == approx([-0.9387, -1.6662, -1.3863, -1.4564, -0.2191, -0.9581, -1.6338], abs=1e-4)


def test_batting_averages_shrink_by_the_james_stein_factor_to_a_third_of_the_error():
    # Efron & Morris 1977: c = 0.212 about the grand mean 0.265; rest-of-season averages from the same table.
    rest = [0.346, 0.298, 0.276, 0.222, 0.273, 0.27, 0.263, 0.21, 0.269, 0.23, 0.264, 0.256, 0.303, 0.264]
    rest = np.array([*rest, 0.226, 0.285, 0.316, 0.2])
    noise = HITS.mean() * (1 - HITS.mean()) / 45
    kept = 1 - (len(HITS) - 3) * noise / np.sum((HITS - HITS.mean()) ** 2)
    assert kept == approx(0.212, abs=5e-4)
    found = pooled(HITS, np.full(18, noise), at(noise * kept / (1 - kept)))
    published = [0.294, 0.289, 0.285, 0.28, 0.275, 0.275, 0.27, 0.266, 0.261, 0.261]
    assert found.mean == approx([*published, 0.256, 0.256, 0.256, 0.256, 0.256, 0.252, 0.247, 0.242], abs=6e-4)
    assert found.common_mean == approx(0.265, abs=5e-4)
    assert np.sum((HITS - rest) ** 2) / np.sum((found.mean - rest) ** 2) == approx(3.50, abs=0.1)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("method", ["dl", "pm"])
def test_random_effects_pooling_agrees_with_a_general_statistics_library(seed, method):
    from statsmodels.stats.meta_analysis import combine_effects

    rng = np.random.default_rng(seed)
    variances = rng.uniform(0.05, 0.6, 12)
    values = rng.normal(2.0, 0.8, 12) + rng.normal(0, np.sqrt(variances))
    theirs = combine_effects(values, variances, method_re="chi2" if method == "dl" else "iterated")
    ours = pooled(values, variances, at(theirs.tau2))
    assert ours.common_mean == approx(theirs.mean_effect_re, rel=1e-6)
    assert ours.common_sd == approx(theirs.sd_eff_w_re, rel=1e-5)


def test_several_treatments_of_one_band_count_as_one_with_their_pooled_precision():
    # Worked by hand: two measurements 1 and 3 of variance 2 are one of 2 with variance 1.
    grid = HyperparameterGrid(np.array([0.35]), np.array([0.28]), np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1))
    twice = prior_level_state(grid, 2)
    for value in (1.0, 3.0):
        twice = filtered_normal(twice, 0, value, 2.0)
    once = filtered_normal(prior_level_state(grid, 2), 0, 2.0, 1.0)
    assert twice.mean == approx(once.mean)
    assert twice.covariance == approx(once.covariance)
