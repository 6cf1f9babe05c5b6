"""The rises seen, corrected by a plain regression, as evidence on the levels. It knows no path, so it errs otherwise.

The rise seen is the highest reading 20-75 minutes after the glucose less the last one before. The regression takes off
what the level does by itself: the higher the start, the further it would have fallen, and who takes a second amount was
falling fast. It was fitted where people treat lows and falls, and is not used where a treatment started higher.
"""

import numpy as np
import polars as pl

from gramrise.domain.starting import REFERENCE_GRAMS_PER_KG
from gramrise.estimate.array_types import Flags
from gramrise.estimate.levels.evidence import Evidence, Floats, widening_reasons
from gramrise.estimate.settings import EstimateSettings, SecondOpinionSettings

# The level from which the regression counts the start, mg/dL: where treating a low begins.
START_MG_DL = 70.0


def seen_rise_evidence(
    used: pl.DataFrame, table: Floats, evidence: Evidence, exponent: float, settings: EstimateSettings
) -> tuple[Evidence, Flags]:
    """Evidence of the rises seen, and which of the treatments it was formed of.

    used, evidence  the pairings the levels are learned from, and what was measured of them, [treatments]
    table           [treatments] the table's factor at each one's weight, mg/dL per g
    exponent        of the rise by the amount of a treatment
    """
    rules = settings.second_opinion
    grams = used["grams"].cast(pl.Float64).fill_null(np.nan).to_numpy()
    relative = grams / (REFERENCE_GRAMS_PER_KG * used["weight_kg"].cast(pl.Float64).to_numpy())
    rise, start = (used[name].cast(pl.Float64).fill_null(np.nan).to_numpy() for name in SEEN)
    with np.errstate(invalid="ignore"):
        told: Flags = np.isfinite(rise) & np.isfinite(grams) & (start <= rules.highest_start_mg_dl)
    per_rise = relative ** (1.0 - exponent) / (grams * table)
    ratio = (rise - rise_without(start, used["doses_n"].to_numpy(), rules)) * per_rise
    reasons_n = widening_reasons(used["reasons"], used["insulin_on_board_units"].is_not_null())
    sd = rules.rise_sd_mg_dl * per_rise * settings.levels.widen_variance_times ** (reasons_n / 2.0)
    least = settings.levels.least_measurement_sd_part * np.maximum(np.abs(ratio), 1e-3)
    seen = Evidence(
        ratio[told], np.maximum(sd, least)[told], evidence.ratio_per_mg_dl[told], evidence.band[told],
        evidence.week[told], evidence.delivery_changes[told],
    )  # fmt: skip
    return seen, told


SEEN = ("rise_seen_mg_dl", "start_seen_mg_dl")


def rise_without(start_mg_dl: Floats, doses_n: Floats, rules: SecondOpinionSettings) -> Floats:
    """The rise that would be seen if the glucose did nothing, mg/dL."""
    further = rules.rise_with_two_doses_mg_dl * (doses_n >= 2) + rules.rise_with_three_doses_mg_dl * (doses_n >= 3)
    return rules.rise_at_70_mg_dl + rules.rise_per_mg_dl_of_start * (start_mg_dl - START_MG_DL) + further
