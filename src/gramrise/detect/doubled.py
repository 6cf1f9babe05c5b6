"""Two traces in one: two sensors worn at once, or one trace imported twice under different clocks."""

import numpy as np

from gramrise.detect.settings import DetectSettings
from gramrise.detect.trace import Flags, Instants, Trace


def doubled_readings(trace: Trace, settings: DetectSettings) -> Flags:
    """Readings amid a saw: neighbours that disagree in turn, by more than a sensor errs; flags over the trace.

    A reading is a tooth when it lies `doubled_mg_dl` or more off the straight line between its neighbours, on the other
    side than the reading before. It is doubled when over half of the `doubled_readings` around it are teeth.
    """
    n = len(trace)
    flags = np.zeros(n, dtype=np.bool_)
    if n < settings.doubled_readings:
        return flags
    minutes = trace.at_us.astype(np.float64)
    share = (minutes[1:-1] - minutes[:-2]) / (minutes[2:] - minutes[:-2])
    off = trace.mg_dl[1:-1] - (trace.mg_dl[:-2] + share * (trace.mg_dl[2:] - trace.mg_dl[:-2]))
    tooth = np.zeros(n)
    far = np.abs(off) >= settings.doubled_mg_dl
    tooth[2:-1] = far[1:] & (np.sign(off[1:]) != np.sign(off[:-1])) & ~trace.starts[2:-1]
    count = np.concatenate([[0], np.cumsum(tooth)])
    half = settings.doubled_readings // 2
    first, past = np.maximum(np.arange(n) - half, 0), np.minimum(np.arange(n) + half + 1, n)
    return np.asarray(count[past] - count[first] > (past - first) / 2, dtype=np.bool_)


def share_flagged(flags: Flags, trace: Trace, from_us: Instants, to_us: Instants) -> Flags:
    """Whether at least half of the readings in each span [from, to) are flagged."""
    count = np.concatenate([[0], np.cumsum(flags)])
    first, past = trace.first_at(from_us), trace.first_at(to_us)
    return np.asarray((past > first) & (2 * (count[past] - count[first]) >= past - first), dtype=np.bool_)
