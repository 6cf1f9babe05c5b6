"""The measurement of each treatment under every candidate, one record a treatment.

A person's treatments share the candidates' weights and a level, so each new one changes how all the others are
averaged. The costly part does not depend on the others: it is done here, and remembered by `measurement_cache`. Records
hold float32 where seven digits are more than readings can say; they are the same whether computed or remembered.
"""

from dataclasses import dataclass
from functools import lru_cache
from hashlib import blake2b
from typing import Any, Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from gramrise.domain.findings import MODEL_VERSION, Inputs
from gramrise.estimate.array_types import Array, Flags
from gramrise.estimate.path import CandidateModel, TreatmentWindows, candidates_of, laid_out, log_prior_of, measurable
from gramrise.estimate.path_settings import PathSettings
from gramrise.estimate.treatment.candidate_posterior import window_density
from gramrise.estimate.treatment.forecast import candidate_forecast
from gramrise.estimate.treatment.likelihood import FactorLikelihood, factor_likelihood
from gramrise.estimate.treatment.untreated_path import readings_of

Records = NDArray[np.void]

# Windows measured at once: bounds memory, costs no speed (our choice).
AT_ONCE: Final = 64


@dataclass(frozen=True, slots=True)
class MeasurementSetup:
    """What treatments are measured with: settings, candidates, and the minutes at which readings are forecast."""

    settings: PathSettings
    model: CandidateModel
    log_prior: Array  # [K] of the candidates
    minutes: tuple[int, ...]
    fingerprint: bytes  # differs wherever a measurement would differ

    @classmethod
    def of(cls, settings: PathSettings, minutes: tuple[int, ...] = (30, 45)) -> "MeasurementSetup":
        """The setup of these settings; it is made once, as every person of a night is measured with it."""
        return _setup(settings.model_dump_json(), minutes)

    @property
    def record(self) -> np.dtype[np.void]:
        """K candidates, S dose-time shifts, A minutes; what is seen is filled in by the caller."""
        k, s, a = len(self.model.candidates), len(self.settings.dose_shift_min), len(self.minutes)
        return np.dtype(
            [
                ("measured", "?"),  # readings enough on both sides of the glucose
                ("forecastable", "?"),  # readings enough before it
                ("factor", "<f4", (s, k)),  # as FactorLikelihood
                ("precision", "<f4", (s, k)),
                ("log_height", "<f8", (k,)),
                ("log_height_before", "<f8", (k,)),
                (
                    "log_density",
                    "<f8",
                    (k,),
                ),  # of the window, factor and (score) dose times integrated over their priors
                ("untreated", "<f4", (k, a)),  # as CandidateForecast
                ("untreated_var", "<f4", (k, a)),
                ("response", "<f4", (k, a)),
                ("response_var", "<f4", (k, a)),
                ("seen", "<f8", (a,)),  # readings that predictions are held against, nan where none is near
            ]
        )


@lru_cache(maxsize=8)
def _setup(settings_json: str, minutes: tuple[int, ...]) -> MeasurementSetup:
    settings = PathSettings.model_validate_json(settings_json)
    model = CandidateModel.of(candidates_of(settings))
    rests_on = (MODEL_VERSION, settings_json, repr(model.candidates), repr(minutes))
    fingerprint = blake2b("\n".join(rests_on).encode(), digest_size=16).digest()
    return MeasurementSetup(settings, model, log_prior_of(settings), minutes, fingerprint)


def measure_each(inputs: Inputs, screened: pl.DataFrame, setup: MeasurementSetup) -> tuple[Records, TreatmentWindows]:
    """[B] records of treatments, and their windows; flags say whether readings suffice to measure and to forecast.

    inputs    all readings and events that the windows reach must be among them
    screened  SCREENED of one person; a column weight_kg f64 beside it where the weight is known
    """
    records = np.zeros(screened.height, dtype=setup.record)
    records["seen"] = np.nan
    windows = laid_out(inputs, screened, setup.settings)
    given: Flags = windows.grams > 0
    before = (windows.present & (windows.minutes <= 0)).sum(axis=1)
    records["measured"] = given & measurable(windows, setup.settings)
    records["forecastable"] = given & (before >= setup.settings.fewest_before)
    for name, fill in (("measured", _fill_measured), ("forecastable", _fill_forecast)):
        rows = np.flatnonzero(records[name])
        for begin in range(0, rows.size, AT_ONCE):
            some = rows[begin : begin + AT_ONCE]
            for field, values in fill(windows.chosen(some), setup).items():
                records[field][some] = values
    return records, windows


def _fill_measured(windows: TreatmentWindows, setup: MeasurementSetup) -> dict[str, Array]:
    model, settings = setup.model, setup.settings
    readings = readings_of(model, windows, settings)
    shifts = tuple(sorted({*settings.dose_shift_min, *settings.score_shift_min}))
    whole = factor_likelihood(model, windows, settings, shifts, readings)
    found, scored = (
        whole.at([shifts.index(each) for each in wanted])
        for wanted in (settings.dose_shift_min, settings.score_shift_min)
    )
    return {
        "factor": found.factor.transpose(2, 0, 1),
        "precision": found.precision.transpose(2, 0, 1),
        "log_height": found.log_height_alone.T,
        "log_height_before": found.log_height_before.T,
        "log_density": window_density(scored, windows, settings, settings.score_shift_min).T,
    }


def _fill_forecast(windows: TreatmentWindows, setup: MeasurementSetup) -> dict[str, Array]:
    ahead = candidate_forecast(setup.model, windows, setup.settings, setup.minutes)
    return {
        "untreated": ahead.untreated_mg_dl.transpose(1, 0, 2),
        "untreated_var": ahead.untreated_var.transpose(1, 0, 2),
        "response": ahead.response_g.transpose(1, 0, 2),
        "response_var": ahead.response_var.transpose(1, 0, 2),
    }


def likelihood_of(records: Records, candidates: Any = slice(None)) -> FactorLikelihood:
    """The likelihood of measured treatments' factors, under all candidates or chosen ones."""

    def of(name: str, axes: tuple[int, ...]) -> Array:
        return np.asarray(records[name][..., candidates].astype(float).transpose(axes))

    factor, alone = of("factor", (1, 2, 0)), of("log_height", (1, 0))
    return FactorLikelihood(
        factor=factor,
        precision=of("precision", (1, 2, 0)),
        log_height=np.broadcast_to(alone, factor.shape),
        log_height_alone=alone,
        log_height_before=of("log_height_before", (1, 0)),
    )
