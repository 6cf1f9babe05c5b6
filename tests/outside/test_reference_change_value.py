"""The interval of drift against the reference change value of laboratory medicine.

Fraser & Harris, Generation and application of data on biological variation in clinical chemistry, Crit Rev Clin Lab Sci
27 (1989) 409-437: two results of one person differ by chance up to 2^0.5 z CV; means of n results by that over n^0.5.
"""

import numpy as np
import pytest
from support.drift_chains import normal_weeks, shipped_model

from gramrise.estimate.drift.week_chain import chain_of, joint_with_now

pytestmark = pytest.mark.outside
Z_90 = 1.645


def half_width_of_90(cv, each_side):
    """Of the log ratio now over then, from so many results on each side of a day on which all may have changed."""
    # Nothing but the results speaks: prior and jump are as good as flat, and a jump on the day is certain.
    model = shipped_model(jump_sd_log=50.0, walk_sd_log_per_week=0.0)
    weeks = normal_weeks(np.zeros(2 * each_side), cv, model, first_week=1 - each_side)
    hazard = np.zeros(2 * each_side)
    hazard[each_side] = 1.0
    weight = np.full(len(model.scatter_log_weight), 1.0 / len(model.scatter_log_weight))
    chain = chain_of(weeks, hazard, model)
    joint = joint_with_now(weeks, chain, hazard, weight, model)
    cells = len(model.axis)
    cdf = np.cumsum([np.trace(joint, offset) for offset in range(1 - cells, cells)])
    edges = (np.arange(2 * cells - 1) - cells + 1.5) * model.settings.axis_step_log
    low, high = np.interp([0.05, 0.95], cdf, edges)
    return (high - low) / 2


@pytest.mark.parametrize(("cv", "each_side"), [(0.30, 4), (0.45, 9), (0.45, 36)])
def test_the_interval_is_as_wide_as_the_reference_change_value(cv, each_side):
    assert half_width_of_90(cv, each_side) == pytest.approx(2**0.5 * Z_90 * cv / each_side**0.5, rel=0.06)
