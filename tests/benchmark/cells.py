"""One person x band as the benchmark sees it: the truth, our interval, the naive figure, the starting table."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import polars as pl
import tests_on_path  # noqa: F401 - support and virtual lie in tests
from support.path_learning import learn as learn_path
from support.path_learning import settings_with

from gramrise.detect import Detected, DetectSettings, detect
from gramrise.detect.settings import shipped as detect_settings
from gramrise.domain.findings import Inputs
from gramrise.estimate import Estimated, EstimateSettings, estimate, estimate_settings
from gramrise.estimate.answer.factors import factors_frame
from gramrise.estimate.body_weight import with_weights
from gramrise.estimate.estimation import local_day
from gramrise.estimate.levels.band_levels import filtering_update, level_model, levels_at, prior_state
from gramrise.estimate.levels.evidence import Bands, delivery_changes, evidence_of, week_of

# A sensor's error on start and on peak, mg/dL each (R50): what a naive rise is uncertain by.
NAIVE_READING_SD_MG_DL = 10.0


@dataclass(frozen=True, slots=True)
class Cell:
    person_id: str
    band: str
    logged_n: int
    used_n: int
    true: float
    ours: float
    low: float
    high: float
    naive: float  # the table's value where no naive figure can be formed
    naive_shrunk: float
    regression: float  # the second opinion by itself
    measured: float  # ours without the second opinion
    table: float
    perfect: float  # from the used pairings' true factors, as if each were measured without error; NaN where none


@dataclass(frozen=True, slots=True)
class Settings:
    detect: DetectSettings
    estimate: EstimateSettings


def settings() -> Settings:
    return Settings(detect_settings(), estimate_settings(None))


def pooled(people: list[Inputs], ours: Settings) -> Settings:
    """The settings with path and shape learned from all these people together, from the shipped ones on."""
    path = ours.estimate.path
    judged = [(inputs, with_weights(inputs.person, _detected(inputs, ours).screened)) for inputs in people]
    learned = learn_path(judged, path)
    changed = settings_with(path, learned.parameters)
    return Settings(ours.detect, ours.estimate.model_copy(update={"path": changed}))


def _detected(inputs: Inputs, ours: Settings) -> Detected:
    return detect(inputs, inputs.readings["at_utc"][-1] + timedelta(minutes=1), ours.detect)


def estimated_of(inputs: Inputs, ours: Settings) -> tuple[Estimated, datetime]:
    now = inputs.readings["at_utc"][-1] + timedelta(minutes=1)
    found = detect(inputs, now, ours.detect)
    return estimate(inputs, found.screened, found.lows, now, ours.estimate), now


def cells_of(inputs: Inputs, truth_bands: pl.DataFrame, treatments: pl.DataFrame, ours: Settings) -> list[Cell]:
    """Every band of one person with at least one logged treatment."""
    estimated, now = estimated_of(inputs, ours)
    factors = {row["band"]: row for row in estimated.factors.iter_rows(named=True)}
    shrunk = _naive_shrunk(inputs, estimated, now, ours)
    cells = []
    for truth in truth_bands.filter(pl.col("logged_n") > 0).iter_rows(named=True):
        row = factors[truth["band"]]
        measured, regression = _log_ratios(estimated, truth["band"])
        naive = _naive(estimated.pairings.filter(pl.col("band") == truth["band"]))
        cells.append(
            Cell(
                truth["person_id"], truth["band"], truth["logged_n"], row["pairings_used"],
                _true(treatments, truth["band"], row["weight_kg"]), row["factor_mg_dl_per_g"],
                row["p05_factor_mg_dl_per_g"], row["p95_factor_mg_dl_per_g"],
                row["starting_mg_dl_per_g"] if np.isnan(naive) else naive, shrunk[truth["band"]],
                row["starting_mg_dl_per_g"] * np.exp(regression),
                row["starting_mg_dl_per_g"] * np.exp(measured), row["starting_mg_dl_per_g"],
                _perfect(estimated.pairings.filter(pl.col("band") == truth["band"]), treatments),
            )
        )  # fmt: skip
    return cells


def _log_ratios(estimated: Estimated, band: str) -> tuple[float, float]:
    """Log ratios to the table by the measured rises alone, and by the regression on the rise seen alone."""
    at = estimated.band_names.index(band)
    assert estimated.levels is not None
    assert estimated.second_opinion is not None
    return float(estimated.levels.mean[at]), float(estimated.second_opinion.log_ratio[at])


def _true(treatments: pl.DataFrame, band: str, weight_kg: float) -> float:
    """Median true factor of all a band's treatments, at the weight for which ours is given."""
    mine = treatments.filter(pl.col("band") == band)
    return float((mine["true_factor_mg_dl_per_g"] * mine["weight_kg"]).median() / weight_kg)


def _perfect(pairings: pl.DataFrame, treatments: pl.DataFrame) -> float:
    """Geometric mean of the true factors of the used pairings: what scatter and the log alone leave to be known."""
    used = pairings.filter(pl.col("verdict") == "used").select("first_dose_utc")
    log_true = used.join(treatments, left_on="first_dose_utc", right_on="logged_first_dose_utc")[
        "true_factor_mg_dl_per_g"
    ].log()
    return float(np.exp(log_true.mean())) if log_true.len() else float("nan")


def _naive(pairings: pl.DataFrame) -> float:
    """Mean of (highest in 20-75 min minus last reading before) per gram, over all treatments; NaN when none."""
    ratio = (pairings["rise_seen_mg_dl"] / pairings["grams"]).drop_nulls()
    return float(ratio.mean()) if ratio.len() else float("nan")


def _naive_shrunk(inputs: Inputs, estimated: Estimated, now: datetime, ours: Settings) -> dict[str, float]:
    """The same shrinkage, fed with naive rises instead of ours."""
    grams = pl.col("grams")
    naive = estimated.pairings.with_columns(
        factor_mg_dl_per_g=pl.col("rise_seen_mg_dl") / grams,
        factor_sd_mg_dl_per_g=NAIVE_READING_SD_MG_DL * np.sqrt(2.0) / grams,
    )
    bands, day, model = Bands.of(inputs.person), local_day(inputs, now), level_model(ours.estimate.levels)
    used, evidence = evidence_of(inputs.person, naive, bands, ours.estimate)
    state, _ = filtering_update(prior_state(len(bands.names), model), evidence, model)
    changes = sum(on <= day for on in delivery_changes(inputs.person))
    levels = levels_at(state, week_of(day), changes, model)
    none = estimated.predictions.clear()
    frame = factors_frame(inputs.person, now, day, bands, levels, used, none, ours.estimate)
    return dict(frame.select("band", "factor_mg_dl_per_g").iter_rows())
