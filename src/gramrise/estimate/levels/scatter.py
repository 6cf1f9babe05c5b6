"""The likelihood of a band's level from one treatment: its measured rise, its noise and the scatter of treatments.

A measured factor may be negative (the level fell all the same) or very noisy, so its logarithm is never taken. The
treatment's own true factor is integrated out: measured = own + normal noise, log own = level + Student's t scatter.
All factors are ratios to the starting table at that day's weight, so that weight and table drop out.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# The axis of log ratios to the starting table on which a level's likelihoods are tabulated: a factor of 20 either way,
# in steps that are small against the narrowest scatter that the settings allow.
AXIS_STEP: Final = 0.1
AXIS: Final = np.linspace(-3.0, 3.0, 61)
# The axis of a treatment's own log ratio: its steps are small against the sharpest measurement too, and it reaches
# further up, since a wild treatment beyond its end would be taken for a milder one.
OWN_STEP: Final = 0.05
OWN: Final = np.linspace(-3.0, 4.0, 141)


def scatter_scale(event_sd: Floats, degrees_of_freedom: float) -> Floats:
    """Scale of the t distribution whose standard deviation is `event_sd`."""
    return np.asarray(event_sd * np.sqrt((degrees_of_freedom - 2.0) / degrees_of_freedom))


def scatter_mass(event_sds: Floats, degrees_of_freedom: float, axis: Floats = AXIS) -> Floats:
    """Probability of a treatment's own log ratio (last axis) given its band's level (middle axis).

    event_sds  [spreads]
    axis       levels, log ratios to the starting table
    returns    [spreads, axis, OWN]; each row sums to about 1, what lies beyond the axis is laid on its ends
    """
    from scipy.special import stdtr

    scale = scatter_scale(event_sds, degrees_of_freedom)[:, None, None]
    away = (OWN[None, None, :] - axis[None, :, None]) / scale
    mass = _student_t_density(away, degrees_of_freedom) / scale * OWN_STEP
    # The t distribution is symmetric: what lies above x has the probability of what lies below -x.
    mass[:, :, 0] = stdtr(degrees_of_freedom, away[:, :, 0] + OWN_STEP / 2 / scale[:, :, 0])
    mass[:, :, -1] = stdtr(degrees_of_freedom, OWN_STEP / 2 / scale[:, :, 0] - away[:, :, -1])
    return np.asarray(mass)


def _student_t_density(x: Floats, degrees_of_freedom: float) -> Floats:
    """Density of Student's t at x. In closed form, since scipy.stats takes half a second to import."""
    half = (degrees_of_freedom + 1.0) / 2.0
    log_top = math.lgamma(half) - math.lgamma(degrees_of_freedom / 2.0) - 0.5 * math.log(degrees_of_freedom * math.pi)
    return np.asarray(np.exp(log_top - half * np.log1p(x**2 / degrees_of_freedom)))


def log_likelihood(ratio: Floats, ratio_sd: Floats, mass: Floats) -> Floats:
    """Log likelihood of the band's level on AXIS, for each treatment and each scatter.

    ratio     [treatments]  measured factor over the starting table's; may be negative
    ratio_sd  [treatments]  its noise, > 0
    mass      [spreads, AXIS, OWN]  from `scatter_mass`
    returns   [treatments, spreads, AXIS]
    """
    spreads, levels, own = mass.shape
    misfit = -0.5 * ((ratio[:, None] - np.exp(OWN)[None, :]) / ratio_sd[:, None]) ** 2
    best = misfit.max(axis=1, keepdims=True)
    seen = np.exp(misfit - best)
    whole = seen @ mass.reshape(spreads * levels, own).T
    log_whole = np.log(np.maximum(whole, 1e-290)) + best - np.log(ratio_sd)[:, None]
    return np.asarray(log_whole.reshape(len(ratio), spreads, levels))
