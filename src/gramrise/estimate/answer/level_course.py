"""The course of each band's number week by week, as all treatments known today and today's model tell it."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from gramrise.domain.findings import Findings
from gramrise.domain.person import Person
from gramrise.domain.starting import STARTING_TABLES
from gramrise.estimate.answer.systematic_uncertainty import Z_95
from gramrise.estimate.body_weight import weight_on
from gramrise.estimate.levels import (
    Bands,
    delivery_changes,
    evidence_of,
    level_model,
    levels_at,
    smoothed_history,
    week_of,
)
from gramrise.estimate.settings import EstimateSettings

# The first day of week 0, a Thursday: weeks are counted from there.
FIRST_DAY = date(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class WeekLevel:
    """One band's number in a week that holds treatments, with its 90 % interval: mg/dL per g at that week's weight."""

    band: str
    week: date
    factor_mg_dl_per_g: float
    p05_mg_dl_per_g: float
    p95_mg_dl_per_g: float


def level_course(person: Person, findings: Findings, settings: EstimateSettings) -> tuple[WeekLevel, ...]:
    """Every week with treatments, by band and time; empty where no weight or no used treatment is known.

    The smoothed levels are shifted by what the latest number holds beyond them (the second opinion), so that the course
    ends in the number that is shown; the uncertainty that treatments cannot remove is part of each interval.
    """
    bands = Bands.of(person)
    _, evidence = evidence_of(person, findings.pairings, bands, settings)
    latest = {row["band"]: row for row in findings.factors.sort("as_of_utc").to_dicts()}
    if len(evidence) == 0 or any(latest.get(name, {}).get("factor_mg_dl_per_g") is None for name in bands.names):
        return ()
    model = level_model(settings.levels)
    history = smoothed_history(evidence, len(bands.names), model)
    today = findings.as_of_utc.astimezone(person.zone_now()).date()
    changes = sum(on <= today for on in delivery_changes(person))
    now = levels_at(history.state, week_of(today), changes, model)
    k = STARTING_TABLES[person.starting_table].k_mg_dl_kg_per_g
    found = []
    for at, name in enumerate(bands.names):
        row = latest[name]
        shift = np.log(row["weight_adjusted_mg_dl_kg_per_g"] / k) - now.mean[at]
        for period, week in enumerate(history.week.tolist()):
            first = FIRST_DAY + timedelta(days=7 * week)
            kg = weight_on(person, first)
            assert kg is not None  # a used treatment has a weight
            middle = k / kg * float(np.exp(history.mean[period, at] + shift))
            reach = float(np.exp(Z_95 * np.hypot(history.sd[period, at], row["sd_log_lasting"])))
            found.append(WeekLevel(name, first, middle, middle / reach, middle * reach))
    return tuple(found)
