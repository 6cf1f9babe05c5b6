"""From inputs and judged treatments to the answer: how many mg/dL one gram raises this person, band by band."""

from dataclasses import dataclass, field, replace
from datetime import date, datetime

import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import COURSES, FACTORS, LOWS, PAIRINGS, PATHS, PREDICTIONS
from gramrise.domain.kept import Kept, ToKeep, paths_of
from gramrise.domain.reasons import Verdict
from gramrise.estimate.answer.candidate_uncertainty import between_candidates_sd_log
from gramrise.estimate.answer.courses import courses_of
from gramrise.estimate.answer.factors import factors_frame
from gramrise.estimate.answer.log_next import log_next
from gramrise.estimate.answer.predictions import predictions_of
from gramrise.estimate.answer.state import delivery_changes
from gramrise.estimate.levels.evidence import Bands, evidence_of, table_factor, week_of, widened
from gramrise.estimate.levels.level_model import BandLevels, level_model, levels_at
from gramrise.estimate.levels.smoothing import LevelHistory, smoothed_history
from gramrise.estimate.settings import EstimateSettings
from gramrise.estimate.treatment.forecast import forecast_by_best_candidate
from gramrise.estimate.treatment.measurement_cache import Standing, standing
from gramrise.estimate.treatment.model_averaging import AveragedMeasurements, average_over_candidates, measured_from


@dataclass(frozen=True, slots=True)
class Estimated:
    """What was estimated for one person; frames as their contracts say.

    `paths` are those drawn anew: all of them where nothing was kept. `to_keep` is for the next night's `kept`.
    `levels` are the bands' levels now and `history` those of every week that holds a treatment, given everything; bands
    in the order of `band_names`, log ratios to the starting table.
    """

    pairings: pl.DataFrame = field(default_factory=PAIRINGS.empty)
    paths: pl.DataFrame = field(default_factory=PATHS.empty)
    factors: pl.DataFrame = field(default_factory=FACTORS.empty)
    predictions: pl.DataFrame = field(default_factory=PREDICTIONS.empty)
    courses: pl.DataFrame = field(default_factory=COURSES.empty)
    log_next: str = ""
    to_keep: ToKeep = field(default_factory=ToKeep)
    band_names: tuple[str, ...] = ()
    levels: BandLevels | None = None
    history: LevelHistory | None = None


def estimate(
    inputs: Inputs,
    screened: pl.DataFrame,
    lows: pl.DataFrame,
    as_of_utc: datetime,
    settings: EstimateSettings,
    kept: Kept | None = None,
) -> Estimated:
    """The estimates for one person as of an instant: a function of the inputs and the model version alone.

    screened  SCREENED; treatments and readings after `as_of_utc` are left out
    lows      LOWS of the same person, of the last weeks at least: how likely those without a word were treated
    kept      what an earlier night left: it spares work and changes nothing
    raises    ColumnsMissing when a frame does not keep its contract
    """
    stands = standing(inputs.person, inputs.doses, screened, as_of_utc, settings, kept)
    return estimate_from(stands, inputs, LOWS.check(lows), as_of_utc)


def estimate_from(stands: Standing, inputs: Inputs, lows: pl.DataFrame, as_of_utc: datetime) -> Estimated:
    """`estimate`, with what stands found out beforehand.

    inputs  readings and events from `stands.inputs_from_utc` on, and food that was logged at any time, suffice
    """
    settings, judged = stands.settings, stands.judged
    inputs = known_by(inputs, as_of_utc)
    lows = lows.filter(pl.col("start_utc") <= as_of_utc)
    records, treatments, pictures = measured_from(stands, inputs, lows, as_of_utc)
    measured = average_over_candidates(records, treatments, stands.weights, judged, stands.setup)
    pairings = pairings_frame(judged, measured, settings)
    day = local_day(inputs, as_of_utc)
    bands = Bands.of(inputs.person)
    model = level_model(settings.levels)
    used, evidence = evidence_of(inputs.person, pairings, bands, settings)
    history = smoothed_history(evidence, len(bands.names), model)
    changes = sum(on <= day for on in delivery_changes(inputs.person))
    levels = levels_at(history.state, week_of(day), changes, model)
    ahead = forecast_by_best_candidate(records, treatments, stands.setup.minutes)
    predictions = predictions_of(stands, ahead, records, used, history.prior_predictive)
    between = between_candidates_sd_log(measured, used, table_factor(inputs.person, used), bands.names)
    factors = factors_frame(inputs.person, as_of_utc, day, bands, levels, used, predictions, settings, between)
    return Estimated(
        pairings=pairings,
        paths=paths_of(inputs.person.person_id, zip(stands.firsts_us[stands.stand_n :], pictures, strict=True)),
        factors=factors,
        predictions=predictions,
        courses=courses_of(inputs.person.person_id, measured.candidates, measured.weights),
        log_next=log_next(inputs, pairings, factors, day, settings),
        band_names=bands.names,
        levels=levels,
        history=history,
        to_keep=stands.to_keep(records, pictures),
    )


def known_by(inputs: Inputs, as_of_utc: datetime) -> Inputs:
    """The inputs without what happened after an instant."""
    return replace(
        inputs,
        readings=_until(inputs.readings, "at_utc", as_of_utc),
        doses=_until(inputs.doses, "taken_at_utc", as_of_utc),
        events=_until(inputs.events, "at_utc", as_of_utc),
    )


def _until(frame: pl.DataFrame, column: str, as_of_utc: datetime) -> pl.DataFrame:
    last = frame[column].max()
    later = isinstance(last, datetime) and last > as_of_utc
    return frame.filter(pl.col(column) <= as_of_utc) if later else frame


def local_day(inputs: Inputs, at_utc: datetime) -> date:
    return at_utc.astimezone(inputs.person.zone_now()).date()


def pairings_frame(judged: pl.DataFrame, measured: AveragedMeasurements, settings: EstimateSettings) -> pl.DataFrame:
    """PAIRINGS: each treatment joined to its measured rise, its doubt widened by its reasons.

    What was to be used but cannot be, for want of a weight or of readings, is set aside with that reason.
    """
    sd = pl.col("factor_var").sqrt()
    rises = measured.frame.drop("verdict")
    joined = judged.join(rises, on=["person_id", "first_dose_utc"], how="left", maintain_order="left")
    named = joined.with_columns(factor_mg_dl_per_g=pl.col("factor_hat_mg_dl_per_g"), factor_sd_mg_dl_per_g=sd)
    named = set_aside_where(named, pl.col("weight_kg").is_null(), "weight_unknown")
    named = set_aside_where(named, pl.col("factor_mg_dl_per_g").is_null(), "gap_in_readings")
    return PAIRINGS.check(widened(named, settings))


def set_aside_where(pairings: pl.DataFrame, rule: pl.Expr, reason: str) -> pl.DataFrame:
    """The used pairings that the rule catches set aside, with the reason added."""
    caught = (pl.col("verdict") == Verdict.USED) & rule
    return pairings.with_columns(
        verdict=pl.when(caught).then(pl.lit(Verdict.SET_ASIDE.value)).otherwise("verdict"),
        reasons=pl.when(caught).then(pl.concat_list("reasons", pl.lit(reason))).otherwise("reasons"),
    )
