"""The change of each band's level since its reference: ratio, growth's part, probability, date and shape."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import polars as pl

from gramrise.domain.drift import Finding, ReferencePoint, Shape
from gramrise.domain.frames import DRIFT
from gramrise.domain.person import Person
from gramrise.estimate.array_types import Array, Flags, Whole
from gramrise.estimate.body_weight import growth_ratio, weight_on
from gramrise.estimate.drift.level_axis import DriftModel, drift_model
from gramrise.estimate.drift.person_chains import BandChain, chains_of
from gramrise.estimate.drift.shape import log_odds_of_step_over_slope, shape_of
from gramrise.estimate.drift.step_evidence import Evidence as StepEvidence
from gramrise.estimate.drift.step_evidence import evidence_of_change, first_step_weights, log_odds_of_steps
from gramrise.estimate.drift.week_chain import WeekLikelihood, joint_with_now, jump_probabilities
from gramrise.estimate.levels import Bands, Evidence, delivery_changes, evidence_of, log_likelihood
from gramrise.estimate.settings import DriftSettings, EstimateSettings

DAYS_IN_A_WEEK = 7
QUANTILES = (0.05, 0.25, 0.50, 0.75, 0.95)


def empty_drift() -> pl.DataFrame:
    return DRIFT.empty()


def drift_of(
    person: Person,
    pairings: pl.DataFrame,
    references: Iterable[ReferencePoint],
    as_of_utc: datetime,
    settings: EstimateSettings,
) -> pl.DataFrame:
    """DRIFT: how each band's number stands to its reference, both by today's model.

    pairings    PAIRINGS of one person; those after `as_of_utc` are left out
    references  at most one a band; those of bands that are no more, or of a day after `as_of_utc`, say nothing
    """
    today = as_of_utc.astimezone(person.zone_now()).date()
    bands = Bands.of(person)
    known = [point for point in references if point.band in bands.names and point.as_of <= today]
    used, evidence = evidence_of(person, pairings.filter(pl.col("first_dose_utc") <= as_of_utc), bands, settings)
    days = used["first_dose_utc"].dt.convert_time_zone(person.zone_now().key).dt.date()
    model = drift_model(settings.drift, settings.levels)
    rows: list[dict[str, Any]] = []
    for as_of in sorted({point.as_of for point in known}):
        measured = measured_since(evidence, days, as_of, today, model)
        found = changes_of(measured, len(bands.names), changed_weeks(person, measured, as_of), model)
        rows += [
            {"person_id": person.person_id, "band": point.band, "reference_date": as_of, "as_of_utc": as_of_utc}
            | _told(found[bands.names.index(point.band)], _growth(person, point, today), as_of, today)
            for point in known
            if point.as_of == as_of
        ]
    return DRIFT.check(pl.DataFrame(rows, schema=DRIFT.schema))


@dataclass(frozen=True, slots=True)
class Measured:
    """Treatments as the chains take them; `week` is counted from the reference, whose own ends with 0."""

    log_likelihood: Array  # [treatments, scatters, cells]
    band: Whole  # [treatments]
    week: Whole  # [treatments]
    last_week: int

    @property
    def first_week(self) -> int:
        return int(min(self.week.min(initial=0), 0))


@dataclass(frozen=True, slots=True)
class Change:
    """Of one band: the log ratio now over reference, growth taken out, as a distribution; and when it came."""

    cdf_at: Array  # edges, log ratio
    cdf: Array  # probability below each edge
    probability_moved: float
    finding: Finding
    shape: Shape
    jump: Array  # [weeks after the reference] probability of a jump into each
    since_n: int
    before_n: int

    def quantile(self, probability: float) -> float:
        return float(np.interp(probability, self.cdf, self.cdf_at))


def measured_since(evidence: Evidence, days: pl.Series, as_of: date, today: date, model: DriftModel) -> Measured:
    """The treatments of the last `history_weeks` before the reference, and all since."""
    away = (days.cast(pl.Date) - as_of).dt.total_days().to_numpy()
    week = np.ceil(away / DAYS_IN_A_WEEK).astype(np.int64)
    near = week > -model.settings.history_weeks
    tables = log_likelihood(evidence.ratio[near], evidence.ratio_sd[near], model.mass)
    return Measured(tables, evidence.band[near], week[near], -(-(today - as_of).days // DAYS_IN_A_WEEK))


def changed_weeks(person: Person, measured: Measured, as_of: date) -> Flags:
    """[weeks] whether insulin delivery or a source's strength changed in a week."""
    weeks = [-(-(on - as_of).days // DAYS_IN_A_WEEK) - measured.first_week for on in changes_on(person)]
    changed = np.zeros(measured.last_week - measured.first_week + 1, dtype=bool)
    changed[[week for week in weeks if 0 < week < len(changed)]] = True
    return changed


def changes_on(person: Person) -> list[date]:
    """Local dates of changes after which a level may be another: of insulin delivery, of a source's strength."""
    found = set(delivery_changes(person))
    strengths: dict[str, float] = {}
    for on, sources in person.sources.entries:
        for source in sources:
            if strengths.get(source.name, source.glucose_per_unit_g) != source.glucose_per_unit_g:
                found.add(on)
            strengths[source.name] = source.glucose_per_unit_g
    return sorted(found)


def changes_of(measured: Measured, bands_n: int, changed: Flags, model: DriftModel) -> list[Change]:
    """The change of each band."""
    chains, steps, evidence = heard(measured, bands_n, changed, model)
    return [_change(chain, steps[band], evidence, measured, band, model) for band, chain in enumerate(chains)]


def heard(
    measured: Measured, bands_n: int, changed: Flags, model: DriftModel
) -> tuple[list[BandChain], list[Array], StepEvidence | None]:
    """The chains of a person's bands, the log odds of a step into each week, and the person's evidence of a change."""
    weeks = [_by_week(measured, band, len(changed)) for band in range(bands_n)]
    chains = chains_of(weeks, changed, model)
    steps = [_step_odds(chain, model) for chain in chains]
    since, rules = changed[1 - measured.first_week :], model.settings
    if not len(since):
        return chains, steps, None
    at_a_change = -np.log1p(-rules.jump_probability_at_a_change)
    beforehand = first_step_weights(np.where(since, at_a_change, 1.0 / rules.first_step_weeks))
    return chains, steps, evidence_of_change(steps, chains[0].scatter_weight, beforehand)


def _step_odds(found: BandChain, model: DriftModel) -> Array:
    at = found.weeks.first_week
    return log_odds_of_steps(found.level, found.weeks.likelihood[:, 1 - at :], model)


def _by_week(measured: Measured, band: int, weeks_n: int) -> WeekLikelihood:
    """The likelihood of one band's weeks; 1 everywhere in a week without a treatment."""
    _, scatters, cells = measured.log_likelihood.shape
    mine = measured.band == band
    total = np.zeros((weeks_n, scatters, cells))
    np.add.at(total, measured.week[mine] - measured.first_week, measured.log_likelihood[mine])
    top = total.max(axis=2, keepdims=True)
    return WeekLikelihood(measured.first_week, np.exp(total - top).swapaxes(0, 1), top.sum(axis=(0, 2)))


def _change(
    found: BandChain, steps: Array, evidence: StepEvidence | None, measured: Measured, band: int, model: DriftModel
) -> Change:
    """steps  log odds of a step into each week since the reference; `evidence` is the person's, None without a week."""
    rules, at = model.settings, -measured.first_week
    joint = joint_with_now(found.weeks, found.chain, found.hazard, found.scatter_weight, model)
    edges, cdf = _distribution(joint, rules.axis_step_log)
    low, high = np.interp(np.log([1.0 - rules.moved_part, 1.0 + rules.moved_part]), edges, cdf)
    probability = float(np.clip(low + 1.0 - high, 0.0, 1.0))
    mine = measured.week[measured.band == band]
    since_n = int((mine > 0).sum())
    finding: Finding = "nothing_since"
    if since_n and evidence is not None:
        finding = _finding(probability, evidence, band, since_n, rules)
    shape: Shape = "none"
    if finding == "moved":
        since = found.weeks.likelihood[:, at + 1 :]
        odds = log_odds_of_step_over_slope(found.level, since, steps, found.scatter_weight, model)
        shape = shape_of(odds, rules.shape_odds)
    jump = jump_probabilities(found.chain, found.hazard, found.scatter_weight)[at + 1 :]
    return Change(edges, cdf, probability, finding, shape, jump, since_n, len(mine) - since_n)


def _distribution(joint: Array, step: float) -> tuple[Array, Array]:
    """Edges of the cells of the log ratio now over reference, and the probability below each."""
    cells = len(joint)
    mass = np.array([np.trace(joint, offset) for offset in range(1 - cells, cells)])
    edges: Array = (np.arange(1 - cells, cells + 1, dtype=np.float64) - 0.5) * step
    return edges, np.concatenate([[0.0], np.cumsum(mass)])


def _finding(probability: float, evidence: StepEvidence, band: int, since_n: int, rules: DriftSettings) -> Finding:
    changed = evidence.log_evidence >= np.log(rules.moved_evidence)
    if changed and evidence.band_share[band] >= rules.moved_band_share and probability >= rules.moved_least_probability:
        return "moved"
    same = evidence.band_log_evidence[band] <= -np.log(rules.held_evidence)
    held = same and probability <= rules.held_probability and since_n >= rules.held_least_pairings
    return "held" if held else "undecided"


def _growth(person: Person, point: ReferencePoint, today: date) -> float | None:
    """The ratio that body weight alone explains; None where no weight is known."""
    now = weight_on(person, today)
    if person.weights_kg.entries:
        return growth_ratio(person, point.as_of, today)
    return None if now is None or point.weight_kg is None else point.weight_kg / now


def _told(change: Change, growth: float | None, as_of: date, today: date) -> dict[str, Any]:
    """The columns of DRIFT that hold numbers."""
    beyond = [float(np.exp(change.quantile(probability))) for probability in QUANTILES]
    ratio = [growth * each if growth is not None else None for each in beyond]
    dates = _change_dates(change, as_of, today)
    return {
        "ratio": ratio[2], "ratio_p05": ratio[0], "ratio_p25": ratio[1], "ratio_p75": ratio[3], "ratio_p95": ratio[4],
        "growth_ratio": growth, "beyond_ratio": beyond[2], "beyond_p05": beyond[0], "beyond_p95": beyond[4],
        "probability_moved": change.probability_moved, "finding": change.finding, "shape": change.shape,
        "change_date": dates[1], "change_date_p05": dates[0], "change_date_p95": dates[2],
        "pairings_since": change.since_n, "pairings_before": change.before_n,
    }  # fmt: skip


def _change_dates(change: Change, as_of: date, today: date) -> list[date | None]:
    """5, 50 and 95 % of the date of the change; none where no jump is more likely than one, or a slope is told."""
    total = float(change.jump.sum())
    if change.finding != "moved" or change.shape == "slope" or total < LEAST_JUMP:
        return [None, None, None]
    share = np.cumsum(change.jump) / total
    # A jump into week w, counted from 1, came in its seven days; the date is read off evenly within them.
    weeks = np.interp([0.05, 0.5, 0.95], np.concatenate([[0.0], share]), np.arange(len(share) + 1))
    return [min(as_of + timedelta(days=1 + int(DAYS_IN_A_WEEK * week)), today) for week in weeks]


# Our choice: a date is told once a jump is as likely as not.
LEAST_JUMP = 0.5
