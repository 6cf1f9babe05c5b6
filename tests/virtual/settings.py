"""Settings of the invented persons; every number's source stands in the virtual.toml beside this module."""

import tomllib
from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict

SETTINGS_FILE = Path(__file__).with_name("virtual.toml")


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class PhysiologySettings(_Frozen):
    bioavailability: float
    food_time_min: float
    volume_l_per_kg: float
    k12_per_min: float
    egp0_mmol_per_kg_min: float
    f01_mmol_per_kg_min: float
    s_it_per_min_per_mu_l: float
    s_id_per_min_per_mu_l: float
    s_ie_per_mu_l: float
    ka1_per_min: float
    ka2_per_min: float
    ka3_per_min: float
    insulin_time_min: float
    ke_per_min: float
    insulin_volume_l_per_kg: float
    counter_below_mmol_l: float
    counter_share_per_mmol_l: float


class FactorSettings(_Frozen):
    median_k: float
    person_sd_log: float
    band_sd_log: float
    least_contrast: float
    most_contrast: float
    event_sd_log: float
    event_t_df: float
    least_exponent: float
    most_exponent: float
    exponent_memory_min: int
    least_absorption_min: float
    most_absorption_min: float
    gel_times: float
    absorption_event_sd_log: float


class DaysSettings(_Frozen):
    level_mmol_l: float
    daily_carbohydrate_g: float
    meal_shares: tuple[float, ...]
    meal_hours: tuple[float, ...]
    meal_chances: tuple[float, ...]
    meal_sd_log: float
    meal_sd_min: float
    counting_sd_log: float
    bolus_missed_share: float
    bolus_early_min: float
    bolus_sd_min: float
    correct_above_mg_dl: float
    correct_to_mg_dl: float
    wake_hour: float
    sleep_hour: float
    waking_sd_min: float
    sensitivity_sd_log: float
    sensitivity_time_min: float
    sensitivity_daily_sd_log: float
    dawn_share: float
    drive_sd_mmol_per_kg_min: float
    drive_time_min: float
    basal_sd_log: float
    activity_chance: float
    activity_hour: float
    activity_sd_min: float
    activity_least_min: float
    activity_most_min: float
    activity_uptake_mmol_per_kg_min: float
    activity_sensitivity: float
    activity_lasts_min: float
    activity_logged_share: float
    suspend_below_mg_dl: float
    suspend_ahead_min: float
    suspend_most_min: float


class TreatingSettings(_Frozen):
    least_per_day: float
    middle_per_day: float
    most_per_day: float
    awake_threshold_mg_dl: float
    awake_threshold_sd: float
    asleep_threshold_mg_dl: float
    asleep_threshold_sd: float
    awake_minutes_to_act: float
    asleep_minutes_to_act: float
    early_below_mg_dl: float
    early_slope_mg_dl_per_min: float
    early_ahead_min: float
    early_ahead_mg_dl: float
    early_minutes_to_act: float
    early_days_share: float
    ignored_days_share: float
    aim_mg_dl: float
    slope_minutes: float
    believed_k: float
    believed_sd_log: float
    amount_sd_log: float
    most_grams_per_kg: float
    again_after_min: int
    again_below_mg_dl: float
    food_instead_share: float
    food_after_share: float
    food_after_least_min: float
    food_after_most_min: float
    food_least_g: float
    food_most_g: float
    liquid_at_night_share: float


class LoggingSettings(_Frozen):
    dose_unlogged_share: float
    dose_time_sd_min: float
    dose_time_far_share: float
    dose_time_far_least_min: float
    dose_time_far_most_min: float
    dose_piece_off_share: float
    food_unlogged_share: float
    food_time_sd_min: float
    insulin_unlogged_share: float
    weighing_every_days: int
    weighing_sd_kg: float


class SensorSettings(_Frozen):
    rising_lag_min: float
    falling_lag_min: float
    lag_sd_log: float
    gain_sd: float
    offset_sd_mg_dl: float
    noise_sd_mg_dl: float
    noise_time_min: float
    white_sd_mg_dl: float
    lowest_mg_dl: float
    highest_mg_dl: float
    days_5_min: int
    days_15_min: int
    warm_up_min: int
    gaps_per_day: float
    gap_median_min: float
    gap_sd_log: float
    dips_per_night: float
    dip_minutes: float
    dip_minutes_sd_log: float
    dip_depth_mg_dl: float
    dip_depth_sd_log: float
    dip_fall_min: float
    dip_return_min: float


class VirtualSettings(_Frozen):
    physiology: PhysiologySettings
    spread: dict[str, float]
    factor: FactorSettings
    days: DaysSettings
    treating: TreatingSettings
    logging: LoggingSettings
    sensor: SensorSettings


@cache
def shipped() -> VirtualSettings:
    """The settings of virtual.toml. Cohorts read no household's file, so that they come out the same everywhere."""
    return VirtualSettings.model_validate(tomllib.loads(SETTINGS_FILE.read_text("utf-8")))
