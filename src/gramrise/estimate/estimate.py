"""From inputs and judged treatments to the answer: how many mg/dL one gram raises this person, band by band."""

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Final

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import FACTORS, PAIRINGS, PATHS, PREDICTIONS, SCREENED
from gramrise.domain.reasons import Verdict
from gramrise.estimate.evidence import Bands, evidence_of, table_factor, week_of, widened
from gramrise.estimate.factors import factors_frame
from gramrise.estimate.growth import with_weights
from gramrise.estimate.history import History, history_of
from gramrise.estimate.levels import Levels, level_model, levels_at
from gramrise.estimate.log_next import log_next
from gramrise.estimate.measure import Foreseen, Measured, measure, predict
from gramrise.estimate.posterior import Foretold
from gramrise.estimate.prediction import Outlook, predictions_frame, seen_readings
from gramrise.estimate.settings import EstimateSettings
from gramrise.estimate.state import delivery_changes

OUTLOOK_COLUMNS: Final = tuple(Outlook.__dataclass_fields__)


@dataclass(frozen=True, slots=True)
class Estimated:
    """What was estimated for one person; frames as their contracts say.

    `levels` are the bands' levels now and `history` those of every week that holds a treatment, given everything; bands
    in the order of `band_names`, log ratios to the starting table.
    """

    pairings: pl.DataFrame = field(default_factory=PAIRINGS.empty)
    paths: pl.DataFrame = field(default_factory=PATHS.empty)
    factors: pl.DataFrame = field(default_factory=FACTORS.empty)
    predictions: pl.DataFrame = field(default_factory=PREDICTIONS.empty)
    log_next: str = ""
    band_names: tuple[str, ...] = ()
    levels: Levels | None = None
    history: History | None = None


def estimate(
    inputs: Inputs, screened: pl.DataFrame, lows: pl.DataFrame, as_of_utc: datetime, settings: EstimateSettings
) -> Estimated:
    """The estimates for one person as of an instant: a function of the inputs and the model version alone.

    screened  SCREENED; treatments and readings after `as_of_utc` are left out
    lows      LOWS of the same person
    raises    ColumnsMissing when a frame does not keep its contract
    """
    del lows
    inputs = known_by(inputs, as_of_utc)
    judged = with_weights(inputs.person, SCREENED.check(screened).filter(pl.col("first_dose_utc") <= as_of_utc))
    measured = measure(inputs, judged, settings.path)
    pairings = pairings_frame(judged, measured, settings)
    day = local_day(inputs, as_of_utc)
    bands = Bands.of(inputs.person)
    model = level_model(settings.levels)
    used, evidence = evidence_of(inputs.person, pairings, bands, settings)
    history = history_of(evidence, len(bands.names), model)
    changes = sum(on <= day for on in delivery_changes(inputs.person))
    levels = levels_at(history.state, week_of(day), changes, model)
    predictions = predictions_of(inputs, judged, used, history.foretold, settings)
    factors = factors_frame(inputs.person, as_of_utc, day, bands, levels, used, predictions, settings)
    return Estimated(
        pairings=pairings,
        paths=PATHS.check(measured.paths),
        factors=factors,
        predictions=predictions,
        log_next=log_next(inputs, pairings, factors, day, settings),
        band_names=bands.names,
        levels=levels,
        history=history,
    )


def known_by(inputs: Inputs, as_of_utc: datetime) -> Inputs:
    """The inputs without what happened after an instant."""
    return replace(
        inputs,
        readings=inputs.readings.filter(pl.col("at_utc") <= as_of_utc),
        doses=inputs.doses.filter(pl.col("taken_at_utc") <= as_of_utc),
        events=inputs.events.filter(pl.col("at_utc") <= as_of_utc),
    )


def local_day(inputs: Inputs, at_utc: datetime) -> date:
    return at_utc.astimezone(inputs.person.zone_now()).date()


def pairings_frame(judged: pl.DataFrame, measured: Measured, settings: EstimateSettings) -> pl.DataFrame:
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


def predictions_of(
    inputs: Inputs, judged: pl.DataFrame, used: pl.DataFrame, foretold: Foretold, settings: EstimateSettings
) -> pl.DataFrame:
    """PREDICTIONS of the used treatments, each from what was known before it."""
    table = table_factor(inputs.person, used)
    before = used.select("person_id", "first_dose_utc", "grams").with_columns(
        log_factor=pl.Series(foretold.level + np.log(table)),
        log_factor_sd=pl.Series(np.hypot(foretold.level_sd, foretold.event_sd)),
        path_bias=pl.Series(foretold.path_bias),
        path_bias_sd=pl.Series(foretold.path_bias_sd),
        bias_covariance=pl.Series(foretold.covariance),
    )
    taught = judged.join(before, on=["person_id", "first_dose_utc"], how="semi")
    if taught.height == 0:
        return PREDICTIONS.empty()
    expected = foreseen_rows(predict(inputs, taught, settings.path, minutes=settings.prediction.minutes_after))
    readable = expected.join(taught.select("first_dose_utc", "window_to_utc"), on="first_dose_utc").filter(
        pl.col("first_dose_utc") + pl.duration(minutes=pl.col("minutes_after")) < pl.col("window_to_utc")
    )
    wanted = readable.join(before, on=["person_id", "first_dose_utc"], how="inner", maintain_order="left")
    wanted = seen_readings(with_path_bias(wanted), inputs.readings, settings.prediction)
    columns = {name: wanted[name].to_numpy() for name in OUTLOOK_COLUMNS}
    return predictions_frame(wanted, Outlook(**columns))


def with_path_bias(wanted: pl.DataFrame) -> pl.DataFrame:
    """The untreated path moved by the path bias as far as the glucose is at work, with its doubt and what offsets it.

    A path thought too low makes the factor lower than measured: their covariance is negative and takes doubt off again.
    """
    share = pl.col("grams_shown") / pl.col("grams")
    through_factor = 2.0 * pl.col("log_factor").exp() * pl.col("grams_shown") * share * pl.col("bias_covariance")
    variance = pl.col("untreated_sd_mg_dl") ** 2
    whole = variance + (share * pl.col("path_bias_sd")) ** 2 + through_factor
    return wanted.with_columns(
        untreated_mg_dl=pl.col("untreated_mg_dl") + share * pl.col("path_bias"),
        untreated_sd_mg_dl=pl.max_horizontal(whole, 0.25 * variance).sqrt(),
    )


def foreseen_rows(foreseen: Foreseen) -> pl.DataFrame:
    """One row a treatment and minute: what the path and the amount alone say of the reading there."""
    parts = [
        pl.DataFrame(
            {
                "person_id": foreseen.person_id,
                "first_dose_utc": foreseen.first_dose_utc,
                "minutes_after": pl.Series([minute] * len(foreseen.person_id), dtype=pl.Int32),
                "untreated_mg_dl": foreseen.untreated_mg_dl[:, i],
                "untreated_sd_mg_dl": np.sqrt(foreseen.untreated_var[:, i]),
                "grams_shown": foreseen.response_g[:, i],
                "grams_shown_sd": np.sqrt(foreseen.response_var[:, i]),
            }
        )
        for i, minute in enumerate(foreseen.minutes)
    ]
    return pl.concat(parts)
