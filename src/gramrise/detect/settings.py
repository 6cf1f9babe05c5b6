"""Settings of this room; every number's unit and source stands in config/detect.toml."""

from functools import cache

from pydantic import BaseModel, ConfigDict, Field

from gramrise.config.settings import load


class DipWeights(BaseModel):
    """Log-odds that a low is a pressure dip, for each thing its shape tells."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    constant: float
    night: float
    depth_per_10_mg_dl: float
    fall_per_10_mg_dl: float
    back_per_10_mg_dl: float
    uneven_per_10_mg_dl: float
    over_per_10_mg_dl: float
    log_length: float
    log_length_squared: float
    falling_before_per_mg_dl_min: float
    rising_after_per_mg_dl_min: float
    too_deep_per_10_mg_dl: float

    def in_order(self) -> tuple[float, ...]:
        """The weights in the order of the fields."""
        return tuple(getattr(self, name) for name in type(self).model_fields)


class RecoveryWeights(BaseModel):
    """Log-odds that glucose was given, for each thing a recovery tells."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    constant: float
    log_rise_45: float
    log_rise_60: float
    log_rise_60_far: float
    fall_per_10_mg_dl: float


class DetectSettings(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    low_mg_dl: float = Field(gt=0)
    level_2_mg_dl: float = Field(gt=0)
    low_minutes: float = Field(gt=0)
    prolonged_mg_dl: float = Field(gt=0)
    prolonged_minutes: float = Field(gt=0)
    gap_minutes: float = Field(gt=0)
    gap_steps: float = Field(gt=1)
    jitter_seconds: float = Field(ge=0, lt=150)
    step_unknown_minutes: float = Field(gt=0)
    chain_minutes: float = Field(gt=0)
    before_low_minutes: float = Field(ge=0)
    falling_mg_dl_per_min: float = Field(ge=0)
    start_within_minutes: float = Field(gt=0)
    slope_minutes: float = Field(gt=0)
    slope_steps: float = Field(gt=0)
    slope_readings: int = Field(ge=2)
    rise_from_minutes: float = Field(ge=0)
    rise_to_minutes: float = Field(gt=0)
    run_in_minutes: float = Field(gt=0)
    response_minutes: float = Field(gt=0)
    run_in_readings: int = Field(ge=1)
    earlier_glucose_minutes: float = Field(ge=0)
    least_response_minutes: float = Field(gt=0)
    insulin_hours_before: float = Field(ge=0)
    insulin_hours_before_child: float = Field(ge=0)
    child_below_years: float = Field(ge=0)
    food_hours_before: float = Field(ge=0)
    with_food_minutes: float = Field(ge=0)
    small_food_g: float = Field(ge=0)
    activity_hours_before: float = Field(ge=0)
    illness_hours_before: float = Field(ge=0)
    glucagon_hours_before: float = Field(ge=0)
    vomited_hours_before: float = Field(ge=0)
    sensor_new_hours: float = Field(ge=0)
    delivery_changed_days: float = Field(ge=0)
    insulin_log_hours: float = Field(gt=0)
    fast_fall_mg_dl_per_min: float = Field(gt=0)
    early_rise_mg_dl: float = Field(gt=0)
    early_rise_minutes: float = Field(gt=0)
    early_rise_below_mg_dl: float = Field(gt=0)
    target_mg_dl: float = Field(gt=0)
    food_before_low_minutes: float = Field(ge=0)
    high_mg_dl: float = Field(gt=0)
    high_within_minutes: float = Field(gt=0)
    finger_minutes: float = Field(ge=0)
    finger_mg_dl: float = Field(gt=0)
    second_amount_minutes: float = Field(ge=0)
    doubled_mg_dl: float = Field(gt=0)
    doubled_readings: int = Field(ge=3)
    dip_called_fine: float = Field(gt=0, le=1)
    dip_called_coarse: float = Field(gt=0, le=1)
    dip_likely: float = Field(gt=0, le=1)
    dip_side_from_minutes: float = Field(ge=0)
    dip_before_minutes: float = Field(gt=0)
    dip_after_minutes: float = Field(gt=0)
    dip_unseen_mg_dl: float = Field(ge=0)
    dip_minutes: float = Field(gt=0)
    dip_most_mg_dl: float = Field(gt=0)
    dip_coarse_from_minutes: float = Field(gt=0)
    night_from_hour: int = Field(ge=0, le=24)
    night_to_hour: int = Field(ge=0, le=24)
    mixed_up_ratios: tuple[float, ...]
    mixed_up_share: float = Field(gt=0)
    mixed_up_treatments: int = Field(ge=2)
    mixed_up_spreads: float = Field(gt=0)
    dip_fine: DipWeights
    dip_coarse: DipWeights
    recovery_telling: float = Field(gt=0.5, le=1)
    log_kept_days: float = Field(gt=0)
    unlogged_share_log_kept: float = Field(gt=0, lt=1)
    unlogged_share_no_log: float = Field(gt=0, lt=1)
    recovery_early_minutes: float = Field(gt=0)
    recovery_late_minutes: float = Field(gt=0)
    recovery_fall_minutes: float = Field(gt=0)
    recovery_least_mg_dl: float = Field(gt=0)
    recovery_even_45_mg_dl: float = Field(gt=0)
    recovery_even_60_mg_dl: float = Field(gt=0)
    recovery_far_log: float
    recovery_most_log: float = Field(gt=0)
    recovery: RecoveryWeights
    unlogged_share_with_food: float = Field(ge=0, le=1)


@cache
def shipped() -> DetectSettings:
    """The settings as shipped."""
    return load("detect", DetectSettings)
