"""Settings of the place room; sources and reasons stand in config/place.toml."""

from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, PositiveFloat, PositiveInt

from gramrise.config.settings import load


class PlaceSettings(BaseModel):
    """All of it; see the file for sources."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    turn_minutes: PositiveFloat
    turn_at_most_mg_dl: PositiveFloat
    explained_before_minutes: PositiveFloat
    explained_after_minutes: PositiveFloat
    turn_after_glucose_minutes: float = Field(ge=0)
    rise_minutes: PositiveFloat
    fall_minutes: PositiveFloat
    fall_weight: float = Field(ge=0, le=1)
    rise_without_mg_dl: PositiveFloat
    rise_without_sd_mg_dl: PositiveFloat
    rise_food_mg_dl: PositiveFloat
    rise_food_sd_mg_dl: PositiveFloat
    own_turns: PositiveFloat
    rise_share: float = Field(gt=0, le=1)
    rise_share_sd: PositiveFloat
    likely_below_70: float = Field(gt=0, lt=1)
    likely_below_80: float = Field(gt=0, lt=1)
    likely_above: float = Field(gt=0, lt=1)
    usual_g_per_kg: PositiveFloat
    usual_sd_log: PositiveFloat
    usual_from_amounts: PositiveInt
    stray_share: float = Field(gt=0, lt=1)
    stray_price: float = Field(gt=0, lt=1)
    unseen_share: float = Field(gt=0, lt=1)
    layings_shown: PositiveInt
    named_from_probability: float = Field(gt=0, lt=1)
    silent_days: PositiveFloat
    steep_prior_log: float
    steep_detected: float = Field(ge=0)
    steep_own: float = Field(ge=0)
    steep_own_quantile: float = Field(gt=0, lt=1)
    steep_own_turns: PositiveFloat
    steep_own_least_mg_dl: PositiveFloat
    steep_own_most_mg_dl: PositiveFloat
    steep_asked_from: float = Field(gt=0, lt=1)
    steep_least_turns: PositiveInt
    steep_asked_days: PositiveFloat
    steep_asked_most: PositiveInt
    weak_uses_a_look: PositiveInt
    weak_least_in_a_band: PositiveInt
    weak_near_days: PositiveFloat
    weak_prior: float = Field(gt=0, lt=1)
    weak_least_ratio: float = Field(gt=0, lt=1)
    weak_most_ratio: float = Field(gt=0, lt=1)
    repeat_season_days: PositiveInt
    repeat_least_days: PositiveInt
    repeat_least_hours_a_day: PositiveInt
    repeat_least_marks: PositiveInt
    repeat_window_hours: PositiveInt
    repeat_part_hours: PositiveInt
    repeat_level: float = Field(gt=0, lt=1)
    repeat_drawings: PositiveInt


def place_settings(home: Path | None = None) -> PlaceSettings:
    """The room's settings with the household's own changes under [place]. Raises WrongUse."""
    return load("place", PlaceSettings, home)


@cache
def shipped() -> PlaceSettings:
    """The shipped settings."""
    return place_settings()
