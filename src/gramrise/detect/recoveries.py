"""Whether glucose was given though nothing is logged: the recovery from a low against untreated recoveries."""

import numpy as np

from gramrise.detect.lows import LowEvents
from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import US_PER_MINUTE, Instants, Numbers, Trace


def recovery_rise(trace: Trace, lows: LowEvents, nadir_row: Instants, settings: DetectSettings) -> Numbers:
    """Highest reading within `recovery_minutes` after each low's lowest value, minus that value; NaN where unseen."""
    found = np.full(len(lows), np.nan)
    span_us = int(settings.recovery_minutes * US_PER_MINUTE)
    for nth, row in enumerate(nadir_row):
        past = int(np.searchsorted(trace.at_us, trace.at_us[row] + span_us, "right"))
        if past - row >= 2:
            found[nth] = trace.mg_dl[row:past].max() - trace.mg_dl[row]
    return found


def probability_unlogged(rise_mg_dl: Numbers, settings: DetectSettings) -> Numbers:
    """Probability that carbohydrate was given, from the rise out of the low; the plain share where no rise is seen."""
    share = settings.unlogged_share
    odds = np.log(share / (1 - share))
    told = (rise_mg_dl - settings.recovery_even_mg_dl) / settings.recovery_scale_mg_dl
    return np.asarray(1 / (1 + np.exp(-(odds + np.nan_to_num(told, nan=0.0)))), dtype=np.float64)
