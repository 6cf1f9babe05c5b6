"""Settings of the room: `config/estimate.toml` as frozen models. Units are in the names; sources stand in the file."""

from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, PositiveFloat, PositiveInt

from gramrise.config.settings import load
from gramrise.estimate.path_settings import PathSettings, path_settings
from gramrise.estimate.path_settings import shipped as shipped_path


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class LevelSettings(_Frozen):
    """The hierarchical model of a person's levels; every `sd_log` is a standard deviation of the natural log."""

    person_sd_log: PositiveFloat
    band_sd_log: PositiveFloat
    event_sd_log: PositiveFloat
    event_sd_spread_log: PositiveFloat
    event_degrees_of_freedom: float = Field(gt=2)
    walk_sd_log_per_week: PositiveFloat
    walk_spread_log: PositiveFloat
    delivery_change_keeps: float = Field(ge=0, le=1)
    path_bias_sd_mg_dl: PositiveFloat
    event_nodes: PositiveInt
    walk_nodes: PositiveInt
    path_bias_nodes: PositiveInt
    ep_sweeps: int = Field(ge=0)
    least_measurement_sd_part: PositiveFloat
    most_measured_sd_of_table: PositiveFloat
    widen_variance_times: float = Field(ge=1)
    measured_sd_times: float = Field(gt=0)
    further_dose_sd_times: float = Field(ge=1)
    further_doses_counted: int = Field(ge=0)


class DoubtSettings(_Frozen):
    """Systematic uncertainty: what more treatments cannot remove."""

    lasting_sd_log_insulin_logged: float = Field(ge=0)
    lasting_sd_log_insulin_not_logged: float = Field(ge=0)
    insulin_logged_part: float = Field(ge=0, le=1)
    exponent_sd: float = Field(ge=0)


class SecondOpinionSettings(_Frozen):
    """The regression on the rise seen, and how far it counts beside the measured rises."""

    part: float = Field(ge=0, le=1)
    disagreement_part: float = Field(ge=0)
    halved_at_log_distance: float = Field(gt=0)
    highest_start_mg_dl: float = Field(gt=0)
    rise_sd_mg_dl: float = Field(gt=0)
    rise_at_70_mg_dl: float
    rise_per_mg_dl_of_start: float
    rise_with_two_doses_mg_dl: float
    rise_with_three_doses_mg_dl: float


class StateSettings(_Frozen):
    """When a band's number is `own`, `thin` or `withheld`."""

    least_used_pairings: PositiveInt
    used_within_days: PositiveInt
    most_interval_ratio: float = Field(gt=1)
    least_coverage: float = Field(ge=0, le=1)
    most_coverage: float = Field(ge=0, le=1)
    coverage_last_treatments: PositiveInt
    weight_within_days: PositiveInt
    weight_ages_under_years: PositiveFloat
    small_child_weight_within_days: PositiveInt
    small_child_under_years: PositiveFloat
    unnoticed_within_days: PositiveInt
    noticed_from_probability: float = Field(gt=0, le=1)
    least_age_years: PositiveFloat
    delivery_settles_days: PositiveInt


class PredictionSettings(_Frozen):
    """Which readings are predicted before a treatment is learned from."""

    minutes_after: tuple[PositiveInt, ...]
    reading_within_minutes: PositiveFloat


class LogNextSettings(_Frozen):
    """When a missing log is worth naming."""

    least_gain_part: float = Field(ge=0)
    weight_sd_log_per_root_year: float = Field(ge=0)
    food_part_of_variance: float = Field(ge=0, le=1)


class DriftSettings(_Frozen):
    """The change of a level since its reference; every `sd_log` is a standard deviation of the natural log."""

    axis_reach_log: PositiveFloat
    axis_step_log: PositiveFloat
    walk_sd_log_per_week: float = Field(ge=0)
    jumps_per_year_of_a_band: float = Field(ge=0)
    jumps_per_year_of_a_person: float = Field(ge=0)
    jumps_per_year_before: float = Field(ge=0)
    jump_sd_log: PositiveFloat
    jump_probability_at_a_change: float = Field(ge=0, le=0.5)
    history_weeks: PositiveInt
    moved_part: float = Field(gt=0, lt=1)
    moved_evidence: float = Field(gt=1)
    first_step_weeks: float = Field(gt=0)
    moved_band_share: float = Field(gt=0, le=1)
    moved_least_probability: float = Field(gt=0, le=1)
    held_probability: float = Field(ge=0, lt=1)
    held_evidence: float = Field(ge=1)
    held_least_pairings: PositiveInt
    shape_odds: float = Field(ge=1)


class EstimateSettings(_Frozen):
    """All of it; see the file for sources."""

    levels: LevelSettings
    doubt: DoubtSettings
    second_opinion: SecondOpinionSettings
    state: StateSettings
    prediction: PredictionSettings
    log_next: LogNextSettings
    drift: DriftSettings
    path: PathSettings = Field(default_factory=shipped_path)


def estimate_settings(home: Path | None = None) -> EstimateSettings:
    """The room's settings with the household's own changes: [estimate] and [estimate_path]. Raises WrongUse."""
    return load("estimate", EstimateSettings, home).model_copy(update={"path": path_settings(home)})


@cache
def shipped() -> EstimateSettings:
    """The shipped settings, without a household's own changes."""
    return estimate_settings()
