"""What each compiled loop wins over a vectorised numpy form of the same: the time of either, and their ratio.

    python tests/benchmark/compiled_loops.py

A loop stays in `gramrise.estimate.compiled` only where it wins more than three times. Both forms must give the same
numbers, or this stops. The sizes are those of a usual call: 24 candidates, 64 treatments whose readings have gaps of
their own, 13 dose times; a year of 180 treatments for the levels.
"""

import sys
import time

import numpy as np
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from levels_cost import drawn
from support import numpy_kalman, numpy_levels
from support.path_people import SETTINGS, life

from gramrise.estimate import compiled
from gramrise.estimate.levels.band_levels import filtering_update, level_model, likelihood_tables, prior_state
from gramrise.estimate.levels.filtering import kept_per_week
from gramrise.estimate.levels.scatter import AXIS
from gramrise.estimate.levels.smoothing import LEAST_WEIGHT
from gramrise.estimate.path.candidate_model import CandidateModel, regression_columns, weights_of_doses
from gramrise.estimate.path.candidates import candidates_of
from gramrise.estimate.path.dynamics import LEVEL
from gramrise.estimate.path.kalman import forecast_level, regression, smooth_level
from gramrise.estimate.path.windows import laid_out
from gramrise.estimate.settings import shipped

REPEATS, LEAST_GAIN = 5, 3.0
TREATMENTS, GAPS, WINDOW_MIN = 64, 0.05, 390
MOVES = np.array(SETTINGS.dose_shift_min, dtype=np.int64)


def windows_with_gaps():
    inputs, screened = life(treatments=TREATMENTS)
    kept = np.random.default_rng(5).random(inputs.readings.height) > GAPS
    return laid_out(type(inputs)(inputs.person, inputs.readings.filter(kept), doses=inputs.doses), screened, SETTINGS)


def best_of(work):
    """Shortest of a few runs, ms, and what came out; the first run compiles."""
    found, times = work(), []
    for _ in range(REPEATS):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times) * 1e3, found


def kalman_loops():
    windows, model = windows_with_gaps(), CandidateModel.of(candidates_of(SETTINGS))
    columns = regression_columns(model, windows, SETTINGS, SETTINGS.dose_shift_min, windows.values)
    nothing = np.zeros(windows.values.shape)
    patterns = numpy_kalman.Patterns.shared(windows.steps, windows.present)
    by_numpy = columns.values.transpose(3, 2, 0, 1)

    def products():
        run = numpy_kalman.gains(model.space, patterns)
        standard = numpy_kalman.innovations(model.space, patterns, run, by_numpy)
        return np.einsum("ptkb,qtkb->pqkb", standard, standard, optimize=True)

    def whole():
        return regression(model.space, windows.steps, windows.present, nothing, columns.values, columns.begins)[0]

    yield "summed_products", lambda: whole().products, products
    one = CandidateModel.of(candidates_of(SETTINGS)[:1])
    two = np.ascontiguousarray(columns.values[0, :, :, [0, 7]].transpose(1, 2, 0))

    def smoothed():
        found = numpy_kalman.smoothed(one.space, patterns, two.transpose(2, 1, 0)[:, :, None, :])
        return found.mean[:, LEVEL, :, 0].transpose(2, 0, 1)

    yield (
        "smoothed_level",
        lambda: smooth_level(one.space, windows.steps, windows.present, nothing, two, LEVEL)[0],
        smoothed,
    )
    yield from forecast_loops(model, windows, columns)
    yield from response_loops(model, windows)


def forecast_loops(model, windows, columns):
    """The run-in alone, then 30 and 45 minutes on. In numpy: the filter with two points without a reading behind it."""
    points = (windows.minutes <= 0).sum(axis=1)
    most = int(points.max())
    last = np.take_along_axis(windows.minutes, points[:, None] - 1, axis=1)
    ahead = np.array([[30, 45]]) - last
    readings = np.ascontiguousarray(columns.values[:, :, :most, :1])
    steps, inside = windows.steps[:, :most], np.arange(most)[None, :] < points[:, None]
    present = windows.present[:, :most] & inside
    wide = np.concatenate([np.where(inside, steps, 0), np.diff(ahead, axis=1, prepend=0)], axis=1)
    patterns = numpy_kalman.Patterns.shared(wide, np.concatenate([present, np.zeros((len(present), 2), bool)], axis=1))
    padded = np.concatenate([readings, np.zeros((*readings.shape[:2], 2, 1))], axis=2).transpose(3, 2, 0, 1)

    def by_numpy():
        run = numpy_kalman.gains(model.space, patterns)
        means = np.zeros((wide.shape[1], model.space.states_n, 1, padded.shape[2], len(wide)))
        numpy_kalman.innovations(model.space, patterns, run, padded, means)
        return means[-2:, LEVEL, 0].transpose(1, 2, 0)

    def by_compiled():
        return forecast_level(model.space, steps, present, readings, points, ahead, LEVEL)[0][..., 0]

    yield "forecast_level", by_compiled, by_numpy


def response_loops(model, windows):
    scaled, longest = weights_of_doses(model, windows), model.shown.shape[2] - 1

    def responses():
        out = np.zeros((len(model.candidates), *windows.minutes.shape, MOVES.size))
        compiled.fill_responses(
            out, 0, model.shown, scaled, windows.minutes, windows.dose_minutes, windows.dose_form, MOVES
        )
        return out

    def responses_by_numpy():
        since = windows.minutes[:, :, None, None] - windows.dose_minutes[:, None, :, None] - MOVES
        shown = model.shown[:, windows.dose_form[:, None, :, None], since.clip(0, longest)] * (since > 0)
        return np.einsum("kbn,kbtns->kbts", scaled, shown, optimize=True)

    yield "fill_responses", responses, responses_by_numpy
    rate = np.random.default_rng(2).random((TREATMENTS, WINDOW_MIN))
    phi = model.push[0, :2, :2]
    trace, determinant = float(np.trace(phi)), float(np.linalg.det(phi))

    def driven_by_numpy():
        answer = np.zeros(WINDOW_MIN)
        answer[1] = 1.0
        for minute in range(2, WINDOW_MIN):
            answer[minute] = trace * answer[minute - 1] - determinant * answer[minute - 2]
        padded = np.concatenate([np.zeros(WINDOW_MIN - 1), answer])
        return rate @ np.lib.stride_tricks.sliding_window_view(padded, WINDOW_MIN)[::-1]

    yield "driven_level", lambda: compiled.driven_level(rate, trace, determinant, 1.0), driven_by_numpy


def level_loops():
    model, evidence = level_model(shipped().levels), drawn(np.random.default_rng(1))
    tables = likelihood_tables(evidence, model)
    by_node, grid = tables[:, model.table_of_node], model.grid
    keeps = model.settings.delivery_change_keeps

    def filtered():
        state = filtering_update(prior_state(2, model), evidence, model, tables)[0]
        return np.where(np.isfinite(state.log_evidence)[:, None], state.mean, 0.0)

    def filtered_by_numpy():
        state = prior_state(2, model)
        mean, covariance, log_evidence = state.mean.copy(), state.covariance.copy(), state.log_evidence.copy()
        numpy_levels.filter_tables(
            mean, covariance, log_evidence, grid, kept_per_week(grid), keeps, AXIS, by_node, evidence
        )
        return np.where(np.isfinite(log_evidence)[:, None], mean, 0.0)

    yield "filter_tables", filtered, filtered_by_numpy
    weeks, period = np.unique(evidence.week, return_inverse=True)
    prior = grid.prior_covariance(2)
    kept = kept_per_week(grid)[:, None] ** np.diff(weeks, prepend=weeks[:1])
    state, _ = filtering_update(prior_state(2, model), evidence, model, tables)
    nodes = np.flatnonzero(grid.weights(state.log_evidence) > LEAST_WEIGHT)

    def smoothed():
        means = np.empty((len(nodes), len(weeks), 2))
        covariances = np.empty((*means.shape, 2))
        for i, node in enumerate(nodes):
            table = np.ascontiguousarray(by_node[:, node])
            compiled.ep_node(
                prior[node], kept[node], AXIS, table, evidence.band, period, model.settings.ep_sweeps, means[i],
                covariances[i],
            )  # fmt: skip
        return means

    def smoothed_by_numpy():
        some = np.ascontiguousarray(by_node[:, nodes].transpose(1, 0, 2))
        return numpy_levels.ep_nodes(
            prior[nodes], kept[nodes], AXIS, some, evidence.band, period, model.settings.ep_sweeps
        )[1]

    yield f"ep_node, {len(nodes)} nodes", smoothed, smoothed_by_numpy


def main():
    print("| loop | compiled, ms | numpy, ms | numpy / compiled | |\n| --- | --- | --- | --- | --- |")
    kept = True
    for name, by_compiled, by_numpy in (*kalman_loops(), *level_loops()):
        fast, one = best_of(by_compiled)
        slow, other = best_of(by_numpy)
        if not np.allclose(one, other, rtol=1e-5, atol=1e-6):
            sys.exit(f"{name}: the two forms differ by {np.abs(one - other).max():.2g}")
        stays = slow > LEAST_GAIN * fast
        kept &= stays
        print(f"| {name} | {fast:.2f} | {slow:.2f} | {slow / fast:.1f} | {'stays' if stays else 'SHOULD GO'} |")
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
