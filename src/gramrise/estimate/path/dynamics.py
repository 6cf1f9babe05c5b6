"""The untreated path: where the level would have gone, as a continuous-time model of level, slope and latent drive.

    dG = s dt                                   G  level as the sensor shows it, mg/dL, about a resting level
    ds = (d - pull * G - s) / bend dt + noise   s  slope, mg/dL per min; follows the drive within `bend` minutes
    dd = -d / lasting dt + noise                d  drive: what insulin, food still coming, liver and sport do, unseen
    dw = -w / sticking dt + noise               w  sensor error that lingers

A reading is G + w + white noise: SEEN is the observation vector. `pull` draws the level slowly back (mean reversion).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from gramrise.estimate.array_types import Array
from gramrise.estimate.path.kalman import StateSpace

LEVEL, SLOPE, DRIVE, LINGER = range(4)
STATES_N: Final = 4
SEEN: Final = np.array([1.0, 0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True)
class PathDynamics:
    """Parameters of the untreated path. All above zero except `drive_at_start`."""

    resting_mg_dl: float  # level to which `pull` draws
    pull_per_min: float  # slope per mg/dL away from the resting level
    bend_min: float  # time constant with which the slope follows the drive
    lasting_min: float  # time constant with which a drive fades
    drive_sd: float  # stationary sd of the drive, mg/dL per min
    slope_sd: float  # stationary sd of the slope about its drive, mg/dL per min
    reading_sd: float  # white noise of a reading, mg/dL
    linger_sd: float  # stationary sd of the lingering sensor error, mg/dL
    linger_min: float  # time constant with which it fades
    drive_at_start: float  # mean drive where a treatment's run-in begins, mg/dL per min; negative: falling


# Enough for a matrix of norm 1/4: the first term left out is below 1e-24.
TAYLOR_TERMS: Final = 14
# Our choice: the level at the first point is as good as unknown beside the readings.
START_LEVEL_SD_MG_DL: Final = 60.0


def state_space(candidates: Sequence[PathDynamics], most_minutes: int) -> StateSpace:
    """Transition tables over 0..most_minutes whole minutes for each candidate. Levels count from `resting_mg_dl`."""
    count = len(candidates)
    transition = np.empty((count, most_minutes + 1, STATES_N, STATES_N))
    noise = np.zeros_like(transition)
    start = np.zeros((count, STATES_N))
    start_covariance = np.zeros((count, STATES_N, STATES_N))
    for k, path in enumerate(candidates):
        phi, q = one_minute(path)
        transition[k, 0] = np.eye(STATES_N)
        for minute in range(1, most_minutes + 1):
            transition[k, minute] = phi @ transition[k, minute - 1]
            noise[k, minute] = phi @ noise[k, minute - 1] @ phi.T + q
        start[k, [SLOPE, DRIVE]] = path.drive_at_start
        start_covariance[k] = _start_covariance(path)
    variances = np.array([path.reading_sd**2 for path in candidates])
    return StateSpace(transition, noise, SEEN, variances, start, start_covariance)


def one_minute(path: PathDynamics) -> tuple[Array, Array]:
    """Transition and noise covariance over one minute (Van Loan 1978, IEEE Trans Automat Contr 23:395)."""
    move = np.zeros((STATES_N, STATES_N))
    move[LEVEL, SLOPE] = 1.0
    move[SLOPE, LEVEL] = -path.pull_per_min / path.bend_min
    move[SLOPE, SLOPE] = -1.0 / path.bend_min
    move[SLOPE, DRIVE] = 1.0 / path.bend_min
    move[DRIVE, DRIVE] = -1.0 / path.lasting_min
    move[LINGER, LINGER] = -1.0 / path.linger_min
    power = np.zeros((STATES_N, STATES_N))
    power[SLOPE, SLOPE] = 2.0 * path.slope_sd**2 / path.bend_min
    power[DRIVE, DRIVE] = 2.0 * path.drive_sd**2 / path.lasting_min
    power[LINGER, LINGER] = 2.0 * path.linger_sd**2 / path.linger_min
    block = matrix_exponential(np.block([[-move, power], [np.zeros_like(move), move.T]]))
    phi = block[STATES_N:, STATES_N:].T
    return phi, phi @ block[:STATES_N, STATES_N:]


def matrix_exponential(matrix: Array) -> Array:
    """The exponential of a small matrix by scaling, a Taylor series and squaring.

    Written out, since scipy.linalg takes as long to import as everything else here; the two agree to 1e-13.
    """
    halvings = max(0, math.ceil(math.log2(max(np.abs(matrix).sum(axis=1).max(), 1e-300))) + 2)
    scaled = matrix / 2.0**halvings
    term = total = np.eye(len(matrix))
    for order in range(1, TAYLOR_TERMS + 1):
        term = term @ scaled / order
        total = total + term
    for _ in range(halvings):
        total = total @ total
    return np.asarray(total)


def _start_covariance(path: PathDynamics) -> Array:
    start = np.zeros((STATES_N, STATES_N))
    start[LEVEL, LEVEL] = START_LEVEL_SD_MG_DL**2
    start[SLOPE, SLOPE] = path.drive_sd**2 + path.slope_sd**2
    start[DRIVE, DRIVE] = path.drive_sd**2
    # The slope follows a drive that lasts: their stationary covariance.
    start[SLOPE, DRIVE] = start[DRIVE, SLOPE] = path.drive_sd**2 * path.lasting_min / (path.lasting_min + path.bend_min)
    start[LINGER, LINGER] = path.linger_sd**2
    return start
