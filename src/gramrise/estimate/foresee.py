"""What is known of a treatment before its response is seen: where the path was heading, and what a gram would do."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.estimate.censoring import Readings
from gramrise.estimate.filter_types import Array, Flags, Whole
from gramrise.estimate.judged import Judged
from gramrise.estimate.model import Model, response
from gramrise.estimate.parameters import PathParameters
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.paths import untreated_at
from gramrise.estimate.priors import shift_log_weights
from gramrise.estimate.windows import Windows, laid_out, measurable


@dataclass(frozen=True, slots=True)
class Foreseen:
    """Arrays [B, A] at the asked minutes after the first dose."""

    person_id: pl.Series
    first_dose_utc: pl.Series
    minutes: tuple[int, ...]
    untreated_mg_dl: Array
    untreated_var: Array  # of a reading there, sensor noise included
    response_g: Array  # rise per mg/dL per g of factor
    response_var: Array  # from doubt of the dose's time


def predict(
    inputs: Inputs,
    screened: pl.DataFrame,
    settings: PathSettings,
    learned: PathParameters | None = None,
    minutes: tuple[int, ...] = (30, 45),
) -> Foreseen:
    """Where the untreated path would be, and the rise per unit of factor, from readings up to the first dose only.

    The parameters are those the person's earlier treatments favour: nothing after the first dose is looked at.
    """
    everything = laid_out(inputs, screened, settings)
    before = (everything.present & (everything.minutes <= 0)).sum(axis=1)
    everything = everything.chosen((before >= settings.fewest_before) & (everything.grams > 0))
    rows = screened[everything.row]
    asked = np.broadcast_to(np.array(minutes), (everything.row.size, len(minutes)))
    out = [np.zeros(asked.shape) for _ in range(4)]
    if everything.row.size:
        candidates, favoured = _favoured(everything, screened, settings, learned)
        for k in np.unique(favoured):
            chosen = favoured == k
            parts = _ahead(Model.of([candidates[int(k)]]), everything.chosen(chosen), settings, asked[chosen])
            for whole, part in zip(out, parts, strict=True):
                whole[chosen] = part
    return Foreseen(rows["person_id"], rows["first_dose_utc"], minutes, *out)


def _favoured(
    windows: Windows, screened: pl.DataFrame, settings: PathSettings, learned: PathParameters | None
) -> tuple[tuple[PathParameters, ...], Whole]:
    """For each window the candidate favoured by the used treatments before it; `screened` stands in order of time."""
    able: Flags = measurable(windows, settings)
    part = windows.chosen(able)
    judged = Judged.of(part, screened, settings, learned)
    favoured = np.zeros(windows.row.size, dtype=np.int64)
    # A window that cannot be measured itself goes by what stood after the measured ones before it.
    counted: Whole = np.cumsum(able) - able
    gained = np.where(judged.used, judged.scores.log_scores, 0.0)
    before = np.concatenate([np.zeros((gained.shape[0], 1)), np.cumsum(gained, axis=1)], axis=1)
    favoured[:] = before[:, counted].argmax(axis=0)
    return judged.candidates, favoured


def _ahead(model: Model, windows: Windows, settings: PathSettings, asked: Whole) -> tuple[Array, Array, Array, Array]:
    early = windows.seen_until(0)
    at = untreated_at(model, early, settings, Readings.plain(early), asked)
    path = model.candidates[0].path
    weights = np.exp(shift_log_weights(settings))
    rises = np.array([response(model, windows, asked, shift)[0] for shift in settings.dose_shift_min])
    middle = np.tensordot(weights, rises, 1)
    spread = np.tensordot(weights, (rises - middle) ** 2, 1)
    return at.mean, at.variance + path.reading_sd**2 + path.linger_sd**2, middle, spread
