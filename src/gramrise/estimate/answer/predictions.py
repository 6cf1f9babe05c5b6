"""PREDICTIONS: readings after each used treatment, predicted from what was known before it."""

import numpy as np
import polars as pl

from gramrise.domain.frames import PREDICTIONS
from gramrise.estimate.array_types import Array, Whole
from gramrise.estimate.levels import PriorPredictive, table_factor
from gramrise.estimate.treatment import Forecast, ReadingPredictive, Records, TreatmentSource, predictions_frame


def predictions_of(
    source: TreatmentSource, ahead: Forecast, records: Records, used: pl.DataFrame, prior_predictive: PriorPredictive
) -> pl.DataFrame:
    """PREDICTIONS of the used treatments, each from what was known before it.

    used, prior_predictive  the treatments learned from, in order of time, and what was known of each before that
    """
    person = source.inputs.person
    of_used, of_ahead = _both(source.firsts_us, ahead, used)
    rows = ahead.rows[of_ahead]
    minutes = np.array(ahead.minutes)
    first = source.screened["first_dose_utc"].dt.epoch("us").to_numpy()[rows]
    until = source.screened["window_to_utc"].dt.epoch("us").to_numpy()[rows]
    readable = first[:, None] + 60_000_000 * minutes[None, :] < until[:, None]
    if not readable.any():
        return PREDICTIONS.empty()
    before = PriorPredictive(
        *(getattr(prior_predictive, name)[of_used] for name in PriorPredictive.__dataclass_fields__)
    )
    table = table_factor(person, used)[of_used]
    grams = used["grams"].cast(pl.Float64).to_numpy()[of_used]
    log_factor = before.level + np.log(table)
    untreated, untreated_sd = _with_path_bias(ahead, of_ahead, before, log_factor, grams)
    wide = np.ones(minutes.size)
    predictive = {
        "untreated_mg_dl": untreated,
        "untreated_sd_mg_dl": untreated_sd,
        "grams_shown": ahead.response_g[of_ahead],
        "grams_shown_sd": np.sqrt(ahead.response_var[of_ahead]),
        "log_factor": np.multiply.outer(log_factor, wide),
        "log_factor_sd": np.multiply.outer(np.hypot(before.level_sd, before.event_sd), wide),
    }
    wanted = pl.DataFrame(
        {
            "first_dose_utc": pl.Series(np.repeat(first, minutes.size)[readable.ravel()]).cast(
                pl.Datetime("us", "UTC")
            ),
            "minutes_after": pl.Series(np.tile(minutes, rows.size)[readable.ravel()], dtype=pl.Int32),
            "seen_mg_dl": pl.Series(records["seen"][rows][readable]).fill_nan(None),
        }
    ).with_columns(person_id=pl.lit(person.person_id, dtype=pl.String))
    return predictions_frame(
        wanted, ReadingPredictive(**{name: values[readable] for name, values in predictive.items()})
    )


def _both(firsts_us: Whole, ahead: Forecast, used: pl.DataFrame) -> tuple[Whole, Whole]:
    """Places among the used treatments, and among the forecast ones, of those that are both."""
    rows = np.searchsorted(firsts_us, used["first_dose_utc"].dt.epoch("us").to_numpy())
    _, of_used, of_ahead = np.intersect1d(rows, ahead.rows, assume_unique=True, return_indices=True)
    return of_used, of_ahead


def _with_path_bias(
    ahead: Forecast, rows: Whole, before: PriorPredictive, log_factor: Array, grams: Array
) -> tuple[Array, Array]:
    """The untreated path moved by the path bias as far as the glucose is at work, and its sd; [treatments, A].

    If the path lies too low, the factor is lower than measured: their negative covariance narrows the sd again.
    """
    shown, variance = ahead.response_g[rows], ahead.untreated_var[rows]
    share = shown / grams[:, None]
    through_factor = 2.0 * np.exp(log_factor)[:, None] * shown * share * before.covariance[:, None]
    whole = variance + (share * before.path_bias_sd[:, None]) ** 2 + through_factor
    untreated = ahead.untreated_mg_dl[rows] + share * before.path_bias[:, None]
    return untreated, np.sqrt(np.maximum(whole, 0.25 * variance))
