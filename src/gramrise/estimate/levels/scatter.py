"""What one treatment says about its band's level: its measured rise, its noise and the scatter of treatments.

A measured factor may be negative (the level fell all the same) or very noisy, so its logarithm is never taken. The
treatment's own true factor is integrated out: measured = own + normal noise, log own = level + Student's t scatter.
All factors are ratios to the starting table at that day's weight, so that weight and table drop out.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student_t

Floats = NDArray[np.float64]

# The axis of log ratios to the starting table on which a level's likelihoods are tabulated: a factor of 20 either way,
# in steps small beside the narrowest scatter that the settings allow.
AXIS_STEP: Final = 0.1
AXIS: Final = np.linspace(-3.0, 3.0, 61)
# The axis of a treatment's own log ratio: steps small beside the sharpest measurement too, and further up, since a wild
# treatment that fell off its end would be taken for a milder one.
OWN_STEP: Final = 0.05
OWN: Final = np.linspace(-3.0, 4.0, 141)


def scatter_scale(event_sd: Floats, degrees_of_freedom: float) -> Floats:
    """Scale of the t distribution whose standard deviation is `event_sd`."""
    return np.asarray(event_sd * np.sqrt((degrees_of_freedom - 2.0) / degrees_of_freedom))


def scatter_mass(event_sds: Floats, degrees_of_freedom: float) -> Floats:
    """Probability of a treatment's own log ratio (last axis) given its band's level (middle axis).

    event_sds  [spreads]
    returns    [spreads, AXIS, OWN]; each row sums to about 1, what lies beyond the axis is laid on its ends
    """
    scale = scatter_scale(event_sds, degrees_of_freedom)[:, None, None]
    away = (OWN[None, None, :] - AXIS[None, :, None]) / scale
    mass = student_t.pdf(away, degrees_of_freedom) / scale * OWN_STEP
    mass[:, :, 0] = student_t.cdf(away[:, :, 0] + OWN_STEP / 2 / scale[:, :, 0], degrees_of_freedom)
    mass[:, :, -1] = student_t.sf(away[:, :, -1] - OWN_STEP / 2 / scale[:, :, 0], degrees_of_freedom)
    return np.asarray(mass)


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
