"""The Nile's flow through our filter and smoother.

Values: Durbin & Koopman, Time Series Analysis by State Space Methods, 2012, p. 37 (variances 15099 and 1469.1), and the
general-purpose reference implementation in statsmodels. Data: Cobb 1978, as statsmodels ships it (1871-1970).
"""

import json
import os
from pathlib import Path

import numpy as np
import pytest
from support.drift_chains import normal_weeks, shipped_model
from support.numpy_kalman import Patterns, gains, smoothed

from gramrise.estimate.drift.week_chain import chain_of, joint_with_now, jump_probabilities
from gramrise.estimate.path.kalman import StateSpace, regression, smooth_level

pytestmark = pytest.mark.outside
READING, LEVEL_MOVE = 15099.0, 1469.1
FOLDER = Path(os.environ.get("GRAMRISE_OUTSIDE_DATA", "absent"))
CHECKS = FOLDER / "science" / "check_values.json"
needs_checks = pytest.mark.skipif(not CHECKS.is_file(), reason="NOT RUN: set GRAMRISE_OUTSIDE_DATA")


@pytest.fixture(scope="module")
def flow():
    nile = pytest.importorskip("statsmodels.datasets").nile
    return nile.load_pandas().data["volume"].to_numpy()


def local_level(first, reading=READING, move=LEVEL_MOVE):
    """The level at the first point known as one reading knows it: exactly the diffuse start."""
    moves = np.array([0.0, move]).reshape(1, 2, 1, 1)
    return StateSpace(
        np.ones((1, 2, 1, 1)), moves, np.ones(1), np.array([reading]), np.array([[first]]), np.array([[[reading]]])
    )


def steps_and_present(n):
    steps, present = np.ones((1, n), dtype=np.int64), np.ones((1, n), dtype=bool)
    steps[0, 0] = 0
    present[0, 0] = False
    return steps, present


def density(flow, reading=READING, move=LEVEL_MOVE):
    steps, present = steps_and_present(flow.size)
    run, _ = regression(
        local_level(flow[0], reading, move), steps, present, np.zeros(steps.shape), flow.reshape(1, 1, -1, 1)
    )
    return float(run.log_likelihood_without_columns[0, 0])


def smoothed_flow(flow):
    steps, present = steps_and_present(flow.size)
    space = local_level(flow[0])
    return smooth_level(space, steps, present, np.zeros(steps.shape), flow.reshape(1, -1, 1), 0)


def test_the_log_likelihood_is_the_published_one(flow):
    # E20 of the check values: -632.5456251157, 99 terms; the figure -632.5456 of another program is from memory.
    assert density(flow) == pytest.approx(-632.5456251157, abs=1e-8)


def test_the_variance_of_prediction_settles_where_it_should(flow):
    steps, present = steps_and_present(flow.size)
    run = gains(local_level(flow[0]), Patterns.shared(steps, present))
    predicted = run.predicted_covariance[:, 0, 0, 0, 0]
    # E20: P of the years 2 to 5, the steady P and gain.
    assert predicted[1:5] == pytest.approx([16568.1, 9368.836379, 7250.569939, 6367.465195], abs=1e-5)
    assert predicted[-1] == pytest.approx(5501.257942, abs=1e-5)
    assert run.gain[-1, 0, 0, 0] == pytest.approx(0.2670480126, abs=1e-9)


def test_the_smoothed_levels_are_the_published_ones(flow):
    level, variance = smoothed_flow(flow)
    # E21: 1871-1875, 1898, 1899, 1913, 1968-1970, and the sd at both ends.
    years = [0, 1, 2, 3, 4, 27, 28, 42, 97, 98, 99]
    expected = [
        1111.66832, 1110.85766, 1105.26557, 1113.5156, 1112.37791, 999.58522, 950.93009, 799.45327, 818.49053, 804.0496,
        798.37029,
    ]  # fmt: skip
    assert level[0, years, 0] == pytest.approx(expected, abs=1e-4)
    assert np.sqrt(variance[0, [0, -1]]) == pytest.approx([63.49928, 63.49928], abs=1e-4)


def test_the_concentrated_log_likelihood_follows_table_2_1(flow):
    # E22, Durbin & Koopman table 2.1 (recalled, recomputed; constants dropped): log q = 0, -3.32, -2.60, -2.32, -2.33.
    found = []
    for log_q in (0.0, -3.32, -2.60, -2.32, -2.33):
        q, n = float(np.exp(log_q)), flow.size - 1
        steps, present = steps_and_present(flow.size)
        run, _ = regression(
            local_level(flow[0], 1.0, q), steps, present, np.zeros(steps.shape), flow.reshape(1, 1, -1, 1)
        )
        variance = float(run.products[0, 0, 0, 0]) / n
        found.append(-0.5 * (n * np.log(variance) + float(run.log_variances[0, 0])))
    assert found == pytest.approx([-495.68, -492.52, -492.10, -492.07, -492.07], abs=0.01)


def test_the_general_smoother_gives_the_same(flow):
    steps, present = steps_and_present(flow.size)
    found = smoothed(local_level(flow[0]), Patterns.shared(steps, present), flow.reshape(1, -1, 1, 1))
    level, variance = smoothed_flow(flow)
    assert found.mean[:, 0, 0, 0, 0] == pytest.approx(level[0, :, 0], abs=1e-8)
    assert found.covariance[:, 0, 0, 0, 0] == pytest.approx(variance[0], abs=1e-6)


def test_a_reference_implementation_agrees_also_with_years_missing(flow):
    structural = pytest.importorskip("statsmodels.tsa.statespace.structural")
    holed = flow.copy()
    holed[[20, 21, 22, 60]] = np.nan
    model = structural.UnobservedComponents(holed, "local level", use_exact_diffuse=True)
    reference = model.smooth([READING, LEVEL_MOVE])
    steps, present = steps_and_present(flow.size)
    present &= ~np.isnan(holed)[None, :]
    space = local_level(flow[0])
    values = np.nan_to_num(holed).reshape(1, -1, 1)
    level, variance = smooth_level(space, steps, present, np.zeros(steps.shape), values, 0)
    assert level[0, :, 0] == pytest.approx(reference.smoothed_state[0], abs=1e-6)
    assert variance[0] == pytest.approx(reference.smoothed_state_cov[0, 0], rel=1e-8)


@needs_checks
def test_the_data_are_the_published_series(flow):
    checks = {row["id"]: row["value"] for row in json.loads(CHECKS.read_text("utf-8"))["values"]}
    assert flow.size == checks["E17"]["n"]
    assert flow.mean() == pytest.approx(checks["E17"]["mean"])
    assert flow[:10].tolist() == checks["E17"]["first"]


def test_the_change_point_of_1898_is_found_by_the_chain_that_dates_a_drift(flow):
    # Cobb 1978 and the literature since: the flow falls after 1898, so that 1899 is the first year of the new level;
    # means 1097.75 before and 849.97 after. One year a week; the noise is the sd about both means, 128 of about 919.
    model = shipped_model()
    logs = np.log(flow / flow.mean())
    hazard = np.full(flow.size, 0.01)
    weeks = normal_weeks(logs, 0.14, model, first_week=-10)
    chain = chain_of(weeks, hazard, model)
    weight = np.full(len(model.scatter_log_weight), 1.0 / len(model.scatter_log_weight))
    jump = jump_probabilities(chain, hazard, weight)
    near = slice(1896 - 1871, 1902 - 1871)
    assert 1871 + int(jump.argmax()) == 1899
    assert jump[near].sum() > 0.8
    joint = joint_with_now(weeks, chain, hazard, weight, model)
    change = float((joint * (model.axis[None, :] - model.axis[:, None])).sum())
    assert np.exp(change) == pytest.approx(849.97 / 1097.75, abs=0.04)
