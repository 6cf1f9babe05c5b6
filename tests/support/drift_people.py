"""Persons of known drift, drawn at the level of their measured treatments, for the benchmark of drift."""

from dataclasses import dataclass, replace

import numpy as np

from gramrise.estimate.drift.change import Measured, changes_of, heard
from gramrise.estimate.levels import log_likelihood

BANDS = 2
# Sd of the noise of one measured rise, as a part of the level: the median of the sample families.
MEASURED_SD = 0.3
DEGREES = 3.0
# Spread of a child's yearly change of weight z-score, and the growth reference's S: how far a carried weight is off.
Z_PER_ROOT_YEAR, S_OF_WEIGHT = 0.3, 0.17
WEEKS_BETWEEN_WEIGHINGS = 17


@dataclass(frozen=True)
class Treated:
    """Treatments of one person; `week` is counted from the reference, in order."""

    band: np.ndarray
    week: np.ndarray
    ratio: np.ndarray
    ratio_sd: np.ndarray

    def measured(self, model):
        """All of them, as the chains take them."""
        tables = log_likelihood(self.ratio, self.ratio_sd, model.mass)
        return Measured(tables, self.band, self.week, int(self.week[-1]))


def known_by(measured, look):
    """What is known at a look, a week since the reference."""
    known = measured.week <= look
    return Measured(measured.log_likelihood[known], measured.band[known], measured.week[known], look)


def drawn(rng, scatter, steps=(0.0, 0.0), step_week=1, weeks=52, weeks_before=30, a_week=(3.0, 2.0)):
    """A person whose bands change by `steps` (logs) with `step_week`; scatter is Student's t, as published is wild."""
    person = rng.normal(-0.2, 0.35)
    week = np.arange(1 - weeks_before, weeks + 1)
    parts = []
    for band in range(BANDS):
        weeks_of = np.repeat(week, rng.poisson(a_week[band], len(week)))
        level = person + rng.normal(0.0, 0.28) + steps[band] * (weeks_of >= step_week)
        noise = rng.standard_t(DEGREES, len(weeks_of)) * scatter / np.sqrt(DEGREES / (DEGREES - 2.0))
        sd = MEASURED_SD * np.exp(level + rng.normal(0.0, 0.3, len(weeks_of)))
        ratio = np.exp(level + np.clip(noise, -3.0, 3.0)) + rng.normal(0.0, sd)
        parts.append((np.full(len(weeks_of), band), weeks_of, ratio, sd))
    band, weeks_of, ratio, sd = (np.concatenate(each) for each in zip(*parts, strict=True))
    order = np.argsort(weeks_of, kind="stable")
    return Treated(band[order], weeks_of[order], ratio[order], sd[order])


def wobble(rng, weeks, weeks_before=30):
    """The weight z-score of each week, from the first: the part of growth that no reference knows."""
    return np.cumsum(rng.normal(0.0, Z_PER_ROOT_YEAR / np.sqrt(365.25 / 7), weeks + weeks_before))


def as_weighed(treated, z, look, weeks_before=30):
    """The treatments with the table's factor by the weighings up to a look, four months apart, not by true weights."""
    first = 1 - weeks_before
    weighed = np.arange(first, look + 1, WEEKS_BETWEEN_WEIGHINGS)
    carried = np.interp(treated.week, weighed, z[weighed - first])
    off = np.exp(S_OF_WEIGHT * (carried - z[treated.week - first]))
    return replace(treated, ratio=treated.ratio * off, ratio_sd=treated.ratio_sd * off)


def weighings_by(look, weeks_before=30):
    return len(range(1 - weeks_before, look + 1, WEEKS_BETWEEN_WEIGHINGS))


def moved_at(known, model):
    """Which bands the rule calls moved at a look; the joint distribution is formed only where evidence is there."""
    changed = np.zeros(known.last_week - known.first_week + 1, dtype=bool)
    _, _, evidence = heard(known, BANDS, changed, model)
    if evidence.log_evidence < np.log(model.settings.moved_evidence):
        return [False] * BANDS
    return [change.finding == "moved" for change in changes_of(known, BANDS, changed, model)]


def all_changes(known, model):
    return changes_of(known, BANDS, np.zeros(known.last_week - known.first_week + 1, dtype=bool), model)


def ideal_odds(treated, band, last_week, scatter, sizes, model):
    """Log of the best odds of a step of known size into a known or the best week against none, at every look.

    What nobody knows is known: the scatter and the two sizes. The level before is seen in the same treatments.
    returns  (with the best week, [looks]; into week `w`, [looks, weeks])
    """
    node = int(np.argmin(np.abs(np.log(model_scatters() / scatter))))
    mine = treated.band == band
    tables = log_likelihood(treated.ratio[mine], treated.ratio_sd[mine], model.mass)[:, node]
    by_week = np.zeros((last_week + 1, len(model.axis)))
    np.add.at(by_week, np.maximum(treated.week[mine], 0), tables)
    until = np.log(model.prior) + np.cumsum(by_week, axis=0)
    odds = np.full((last_week, last_week), -np.inf)
    for look in range(1, last_week + 1):
        none = _log_sum(until[look])
        for size in sizes:
            since = until[look] - until[:look]
            moved = np.stack([np.interp(model.axis + size, model.axis, row) for row in since])
            odds[look - 1, :look] = np.maximum(odds[look - 1, :look], _log_sum(until[:look] + moved) - none)
    return odds.max(axis=1), odds


def model_scatters():
    from gramrise.estimate import shipped_settings
    from gramrise.estimate.levels import level_model

    return np.unique(level_model(shipped_settings().levels).grid.event_sd)


def _log_sum(logs):
    top = logs.max(axis=-1, keepdims=True)
    return (np.log(np.exp(logs - top).sum(axis=-1, keepdims=True)) + top)[..., 0]
