"""The likelihood of one treatment's factor: readings = untreated path + response of all its doses, in closed form."""

from dataclasses import dataclass, replace

import numpy as np

from gramrise.estimate.array_types import Array, log_sum_exp
from gramrise.estimate.path import CandidateModel, Readings, TreatmentWindows, regression, regression_columns
from gramrise.estimate.path_settings import PathSettings


@dataclass(frozen=True, slots=True)
class FactorLikelihood:
    """Gaussian likelihood of each window's factor, by candidate and dose-time shift; shapes [S, K, B]."""

    factor: Array  # mg/dL per g at the reference amount, flat prior
    precision: Array  # 1 / variance
    log_height: Array  # log density of the readings at factor = 0, everything else integrated out
    log_height_alone: Array  # [K, B] the same
    log_height_before: Array  # [K, B] log density of the readings up to the first dose

    def at(self, shifts: list[int]) -> "FactorLikelihood":
        """The same with only these of its dose-time shifts, by place."""
        return replace(
            self,
            factor=self.factor[shifts],
            precision=self.precision[shifts],
            log_height=self.log_height[shifts],
        )

    def with_prior(self, mean: Array, variance: Array) -> tuple[Array, Array, Array]:
        """Posterior mean, variance and log marginal density under a Gaussian prior of the factor ([B])."""
        precision = self.precision + 1 / variance
        weighted = self.precision * self.factor + mean / variance
        posterior = weighted / precision
        log_density = self.log_height - 0.5 * (mean**2 / variance - weighted**2 / precision)
        return posterior, 1 / precision, log_density - 0.5 * np.log(variance * precision)


def factor_likelihood(
    model: CandidateModel,
    windows: TreatmentWindows,
    settings: PathSettings,
    shifts: tuple[int, ...] = (0,),
    readings: Readings | None = None,
) -> FactorLikelihood:
    """Regress every window on its response through the filter; insulin and food columns are integrated out.

    shifts    minutes by which all doses are moved, one regression each; none: the readings' density alone
    readings  the windows' readings as the filter takes them; None: those in range, as they are
    """
    seen = Readings.plain(windows) if readings is None else readings
    columns = regression_columns(model, windows, settings, shifts, seen.values)
    first = 1 + columns.surroundings_n
    after = (windows.minutes <= 0).sum(axis=1)
    seen_by = (model.space, windows.steps, seen.present, seen.extra_variance)
    run, run_in = regression(*seen_by, columns.values, columns.begins, after, first, first)
    products, height = run.products[:first], run.log_likelihood_without_columns
    early, early_height = run_in.products, run_in.log_likelihood_without_columns
    s = np.arange(first, first + len(shifts))
    information = run.products[s, s]
    for column, (mean, sd) in zip(range(1, first), _shares(model), strict=False):
        information = information - products[column, s] ** 2 / (products[column, column] + 1 / sd**2)
        products, height = integrate_out(products, height, column, mean, sd**2)
        early, early_height = integrate_out(early, early_height, column, mean, sd**2)
    information = np.maximum(information, 1e-12)
    all_heights = np.broadcast_to(height, information.shape)
    return FactorLikelihood(products[0, s] / information, information, all_heights, height, early_height)


def _shares(model: CandidateModel) -> list[tuple[Array, Array]]:
    c = model.candidates
    return [
        (np.array([x.insulin_share for x in c])[:, None], np.array([x.insulin_share_sd for x in c])[:, None]),
        (np.array([x.food_share for x in c])[:, None], np.array([x.food_share_sd for x in c])[:, None]),
    ]


def integrate_out(products: Array, log_height: Array, column: int, mean: Array, variance: Array) -> tuple[Array, Array]:
    """Remove one regressor with prior N(mean, variance) from the sums of products of the first columns with all.

    products  [R, P, K, B], R <= P: what the first R columns, readings and surroundings, give with each of all P
    returns   the sums and the log density with that regressor integrated out
    """
    row = products[column].copy()
    inner = row[column] + 1 / variance
    moved = products.copy()
    moved[0] = products[0] - mean * row
    moved[0, 0] = products[0, 0] - 2 * mean * products[0, column] + mean**2 * row[column]
    moved[1:, 0] = moved[0, 1 : len(moved)]
    row[0] = moved[0, column]
    moved = moved - row[: len(moved), None] * row[None, :] / inner
    gained = -0.5 * (moved[0, 0] - products[0, 0]) - 0.5 * np.log(variance * inner)
    return moved, log_height + gained


# A window's own likelihood is never wider than this many prior standard deviations: a wider one says nothing.
WIDEST = 30.0


def over_shifts(found: FactorLikelihood, shift_log_weights: Array, mean: Array, variance: Array) -> tuple[Array, Array]:
    """One Gaussian likelihood a candidate and window out of its dose-time shifts: factor and its variance, [K, B].

    The posterior under a prior N(mean, variance) is a mixture over the shifts. The likelihood handed on is the Gaussian
    with its first two moments, divided by the prior; where the mixture is no narrower than the prior it is very wide.
    """
    centre, spread, density = found.with_prior(mean, variance)
    logs = density + shift_log_weights[:, None, None]
    share = np.exp(logs - log_sum_exp(logs, axis=0))
    posterior = (share * centre).sum(axis=0)
    scatter = (share * (spread + (centre - posterior) ** 2)).sum(axis=0)
    precision = np.maximum(1 / scatter - 1 / variance, 1 / (WIDEST**2 * variance))
    return (posterior / scatter - mean / variance) / precision, 1 / precision
