"""Falls that nobody treats, each from where something was eaten on, as one path makes them."""

from datetime import timedelta

import numpy as np

from gramrise.domain.findings import Inputs
from gramrise.estimate.path.dynamics import DRIVE, LEVEL, LINGER, SLOPE, one_minute
from support.path_people import START, doses_frame, person, readings_frame

HOURS_APART = 6


def falls(path, days=8, noise=2.0, seed=1):
    """Falls as one path makes them, each from where something was eaten on, and the last instant."""
    rng = np.random.default_rng(seed)
    move, spread = one_minute(path)
    shaken = np.linalg.cholesky(spread + 1e-12 * np.eye(move.shape[0]))
    state = np.zeros(move.shape[0])
    rows, eaten = [], []
    for minute in range(days * 24 * 60):
        if minute % (60 * HOURS_APART) == 0:
            state[:] = 0.0
            eaten.append((START + timedelta(minutes=minute), 10.0))
            state[[LEVEL, SLOPE, DRIVE]] = 200.0 - path.resting_mg_dl, -1.0, -1.0
        if minute % 5 == 0:
            shown = state[LEVEL] + state[LINGER] + path.resting_mg_dl + noise * rng.standard_normal()
            rows.append((START + timedelta(minutes=minute), float(shown)))
        state = move @ state + shaken @ rng.standard_normal(state.size)
    return Inputs(person(), readings_frame(rows), doses=doses_frame(eaten)), rows[-1][0]
