"""From inputs and screened treatments to the answer: how many mg/dL one gram raises this person, band by band."""

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta

import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import COURSES, FACTORS, LOWS, PAIRINGS, PREDICTIONS, SCREENED
from gramrise.domain.memo import Memo, ReadingsByDay
from gramrise.domain.pictures import Drawn, paths_of
from gramrise.domain.reasons import Verdict
from gramrise.domain.starting import TAUGHT
from gramrise.estimate.answer import (
    SecondOpinion,
    courses_of,
    factors_frame,
    latest_unnoticed_low,
    log_next,
    predictions_of,
    second_opinion,
    shared_sd_log,
)
from gramrise.estimate.body_weight import with_weights
from gramrise.estimate.levels import (
    BandLevels,
    Bands,
    LevelHistory,
    delivery_changes,
    evidence_of,
    level_model,
    levels_at,
    smoothed_history,
    table_factor,
    week_of,
    widened,
)
from gramrise.estimate.settings import EstimateSettings
from gramrise.estimate.treatment import (
    AveragedMeasurements,
    MeasurementSetup,
    TreatmentSource,
    UntreatedStretches,
    average_over_candidates,
    candidate_posterior_of,
    drawing_of,
    forecast_by_best_candidate,
    latest_stretches,
    measurements,
    path_offset,
    pictures_of,
    stretches_from,
    untreated_log_weights,
    weights_of,
)


@dataclass(frozen=True, slots=True)
class Estimated:
    """What was estimated for one person; frames as their contracts say.

    `drawn` are the pictures, each with the instant of its first dose, microseconds since 1970; `paths` is their frame.
    `levels` are the bands' levels now by the measured rises; `history` holds those of every week with a treatment,
    smoothed; `second_opinion` those of a plain regression, and how both make the answer. Bands are in the order of
    `band_names`, levels are log ratios to the starting table.
    """

    pairings: pl.DataFrame = field(default_factory=PAIRINGS.empty)
    factors: pl.DataFrame = field(default_factory=FACTORS.empty)
    predictions: pl.DataFrame = field(default_factory=PREDICTIONS.empty)
    courses: pl.DataFrame = field(default_factory=COURSES.empty)
    unnoticed_low_utc: datetime | None = None
    log_next: str = ""
    person_id: str = ""
    drawn: tuple[tuple[int, Drawn], ...] = ()
    band_names: tuple[str, ...] = ()
    levels: BandLevels | None = None
    history: LevelHistory | None = None
    second_opinion: SecondOpinion | None = None

    @property
    def paths(self) -> pl.DataFrame:
        """PATHS of all pictures."""
        return paths_of(self.person_id, ((first_us, each.packed()) for first_us, each in self.drawn))


def estimate(
    inputs: Inputs,
    screened: pl.DataFrame,
    lows: pl.DataFrame,
    as_of_utc: datetime,
    settings: EstimateSettings,
    readings: ReadingsByDay | None = None,
    memo: Memo | None = None,
) -> Estimated:
    """The estimates for one person as of an instant: a function of the inputs and the model version alone.

    screened  SCREENED; treatments and readings after `as_of_utc` are left out
    lows      LOWS of the same person, of the last weeks at least; they say how likely an unlogged low was treated
    readings  fetched when asked for; None: those of the inputs
    memo      what was measured and drawn before: it spares work and changes nothing
    raises    ColumnsMissing when a frame does not keep its contract
    """
    readings = ReadingsByDay.of(inputs.readings) if readings is None else readings
    known = known_by(inputs, as_of_utc)
    weighed = with_weights(inputs.person, SCREENED.check(screened).filter(pl.col("first_dose_utc") <= as_of_utc))
    setup = MeasurementSetup.of(settings.path, minutes=settings.prediction.minutes_after)
    as_of_us = epoch_us(as_of_utc)
    source = TreatmentSource(
        known, readings, as_of_us, weighed, setup, settings.prediction, Memo() if memo is None else memo
    )
    latest = source.with_readings(epoch_us(stretches_from(as_of_utc, settings.path)), as_of_us + 1)
    lows = LOWS.check(lows).filter(pl.col("start_utc") <= as_of_utc)
    unnoticed = latest_unnoticed_low(known.doses, lows, as_of_utc, settings.state)
    return _estimated(source, latest_stretches(latest, lows, as_of_utc, settings.path), as_of_utc, settings, unnoticed)


def _estimated(
    source: TreatmentSource,
    stretches: UntreatedStretches | None,
    as_of_utc: datetime,
    settings: EstimateSettings,
    unnoticed_low_utc: datetime | None,
) -> Estimated:
    inputs, screened, setup = source.inputs, source.screened, source.setup
    records, keys = measurements(source)
    untreated = untreated_log_weights(stretches, setup)
    posterior, weights = candidate_posterior_of(records, screened, setup, untreated), weights_of(screened)
    drawing = drawing_of(records, posterior, weights, setup)
    drawn = pictures_of(source, drawing, keys)
    offset = path_offset(stretches, setup)
    measured = average_over_candidates(records, posterior, weights, screened, setup, drawn, offset)
    pairings = pairings_frame(screened, measured, settings)
    day = local_day(inputs, as_of_utc)
    bands = Bands.of(inputs.person)
    model = level_model(settings.levels)
    used, evidence = evidence_of(inputs.person, pairings, bands, settings)
    history = smoothed_history(evidence, len(bands.names), model)
    changes = sum(on <= day for on in delivery_changes(inputs.person))
    levels = levels_at(history.state, week_of(day), changes, model)
    ahead = forecast_by_best_candidate(records, posterior, setup.minutes)
    predictions = predictions_of(source, ahead, records, used, history.prior_predictive)
    second = second_opinion(inputs.person, used, evidence, levels, settings)
    table = table_factor(inputs.person, used)
    shared = second.with_disagreement(shared_sd_log(measured, used, table, bands.names, levels.mean, settings.doubt))
    both = replace(levels, mean=second.combined)
    unnoticed = unnoticed_low_utc is not None
    factors = factors_frame(inputs.person, as_of_utc, day, bands, both, used, predictions, settings, shared, unnoticed)
    return Estimated(
        pairings=pairings,
        factors=factors,
        predictions=predictions,
        courses=courses_of(inputs.person.person_id, measured.candidates, measured.weights),
        unnoticed_low_utc=unnoticed_low_utc,
        log_next=log_next(inputs, pairings, factors, day, settings),
        band_names=bands.names,
        levels=levels,
        history=history,
        second_opinion=second,
        drawn=tuple(zip(source.firsts_us[drawing.rows].tolist(), drawn, strict=True)),
        person_id=inputs.person.person_id,
    )


def epoch_us(at_utc: datetime) -> int:
    """Microseconds since 1970-01-01 00:00 UTC, exactly."""
    return (at_utc - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


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


def pairings_frame(screened: pl.DataFrame, measured: AveragedMeasurements, settings: EstimateSettings) -> pl.DataFrame:
    """PAIRINGS: each treatment joined to its measured rise; its reasons widen its uncertainty.

    A treatment that lacks a weight or readings, or says no more than the weight table does, is set aside for that.
    """
    sd = pl.col("factor_var").sqrt()
    rises = measured.frame.drop("verdict")
    joined = screened.join(rises, on=["person_id", "first_dose_utc"], how="left", maintain_order="left")
    named = joined.with_columns(factor_mg_dl_per_g=pl.col("factor_hat_mg_dl_per_g"), factor_sd_mg_dl_per_g=sd)
    named = set_aside_where(named, pl.col("weight_kg").is_null(), "weight_unknown")
    named = set_aside_where(named, pl.col("factor_mg_dl_per_g").is_null(), "gap_in_readings")
    of_table = pl.col("factor_sd_mg_dl_per_g") * pl.col("weight_kg") / TAUGHT.k_mg_dl_kg_per_g
    named = set_aside_where(named, of_table > settings.levels.most_measured_sd_of_table, "says_little")
    return PAIRINGS.check(widened(named, settings))


def set_aside_where(pairings: pl.DataFrame, rule: pl.Expr, reason: str) -> pl.DataFrame:
    """Set aside the used pairings that the rule catches, and add the reason."""
    caught = (pl.col("verdict") == Verdict.USED) & rule
    return pairings.with_columns(
        verdict=pl.when(caught).then(pl.lit(Verdict.SET_ASIDE.value)).otherwise("verdict"),
        reasons=pl.when(caught).then(pl.concat_list("reasons", pl.lit(reason))).otherwise("reasons"),
    )
