"""Limits of plausible values, bounds of files, and what counts as proof; values and sources: config/intake.toml."""

from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from gramrise.config.settings import load


class IntakeSettings(BaseModel):
    """See config/intake.toml for each key's unit and source."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    least_glucose_mg_dl: float
    most_glucose_mg_dl: float
    below_range_mg_dl: float
    above_range_mg_dl: float
    most_grams_in_one_dose: float
    most_grams_per_kg_in_one_dose: float
    most_amounts_at_once: int
    most_insulin_units: float
    much_insulin_units: float
    much_insulin_below_kg: float
    most_carbohydrate_g: float
    least_weight_kg: float
    most_weight_kg: float
    weight_jump_share: float
    weight_jump_days: int
    weight_jump_share_per_year: float
    weight_same_day_share: float
    weight_far_sd: float
    weight_for_age_l_boys: tuple[float, ...]
    weight_for_age_m_boys: tuple[float, ...]
    weight_for_age_s_boys: tuple[float, ...]
    weight_for_age_l_girls: tuple[float, ...]
    weight_for_age_m_girls: tuple[float, ...]
    weight_for_age_s_girls: tuple[float, ...]
    earliest_year: int
    latest_hours_ahead: float
    latest_two_digit_year: int
    clock_tolerance_minutes: float
    follows_within_steps: float
    most_regular_step_minutes: float
    note_hours: float
    most_note_lines: int
    log_waits_from_doses: int
    contradicts_from_readings: int
    contradicts_from_share: float
    few_contradict_from_readings: int
    few_contradict_from_share: float
    few_contradict_apart_mg_dl: float
    between_apart_mg_dl: float
    between_apart_share: float
    dense_from_readings: int
    dense_off_mg_dl: float
    dense_apart_mg_dl: float
    values_that_prove_a_unit: int
    median_mmol_l_from: float
    median_mmol_l_to: float
    median_mg_dl_from: float
    median_mg_dl_to: float
    most_file_bytes: int
    most_small_file_bytes: int
    most_json_bytes: int
    most_workbook_cells: int
    most_tables: int
    most_reading_memory_bytes: int
    most_reading_cpu_seconds: int
    most_unpacked_ratio: float
    most_archive_members: int
    most_line_characters: int
    most_line_bytes: int
    most_columns: int
    most_json_depth: int
    most_troubles_named: int
    block_bytes: int
    careful_bytes: int
    subjects: dict[str, str]
    numbered_anew: tuple[str, ...]


def load_settings(home: Path | None = None) -> IntakeSettings:
    """Shipped values, overridden by [intake] in the home's gramrise.toml."""
    return load("intake", IntakeSettings, home)


@cache
def shipped_settings() -> IntakeSettings:
    """The shipped values alone."""
    return load_settings()
