"""A person whose path turns slowly: a drive of half-life two hours, hardly drawn back; most falls are treated."""

from dataclasses import replace
from datetime import timedelta

import numpy as np

from gramrise.domain.findings import Inputs
from gramrise.estimate.path.candidates import shipped_parameters
from gramrise.estimate.path.dynamics import DRIVE, LEVEL, LINGER, SLOPE, one_minute
from gramrise.estimate.path_settings import shipped
from support.path_people import GRAMS, START, curve, doses_frame, person, readings_frame

PULL_PER_MIN = 0.0036
HALF_LIFE_MIN = 120.0
CYCLE_MIN = 8 * 60
TREATS_BELOW = 70.0
TREATED_SHARE = 0.75
NOISE_MG_DL = 2.0


def slow_person(factor: float, seed: int, days: int) -> Inputs:
    """Every eight hours a fall from 180; three of four that pass 70 are treated once, and the log is exact."""
    rng = np.random.default_rng(seed)
    middle = shipped_parameters(shipped()).path
    path = replace(middle, pull_per_min=PULL_PER_MIN, lasting_min=HALF_LIFE_MIN / np.log(2.0))
    move, spread = one_minute(path)
    shaken = np.linalg.cholesky(spread + 1e-12 * np.eye(move.shape[0]))
    rise, state, rows, doses = curve(), np.zeros(move.shape[0]), [], []
    given, treats = -10_000, False
    for minute in range(days * 24 * 60):
        if minute % CYCLE_MIN == 0:
            state[[LEVEL, SLOPE, DRIVE, LINGER]] = 180.0 - path.resting_mg_dl, -0.7, -0.9, 0.0
            given, treats = -10_000, rng.random() < TREATED_SHARE
        since = minute - given
        lifted = factor * GRAMS * (rise[since] if 0 < since <= 360 else 0.0)
        shown = state[LEVEL] + state[LINGER] + path.resting_mg_dl + lifted
        if minute % 5 == 0:
            shown += NOISE_MG_DL * rng.standard_normal()
            rows.append((START + timedelta(minutes=minute), float(shown)))
            if treats and given < 0 and shown < TREATS_BELOW:
                given = minute
                doses.append((START + timedelta(minutes=minute), GRAMS))
        state = move @ state + shaken @ rng.standard_normal(state.size)
    return Inputs(person(), readings_frame(rows), doses=doses_frame(doses))
