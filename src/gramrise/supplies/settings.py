"""Settings of the supplies room; sources and reasons stand in config/supplies.toml."""

from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, PositiveFloat, PositiveInt

from gramrise.config.settings import load


class SuppliesSettings(BaseModel):
    """All of it; see the file for sources."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    days_kept_cold: PositiveInt
    hours_out_of_the_cold: PositiveInt
    strongest_in_the_cold_g_per_ml: PositiveFloat
    strongest_in_a_room_g_per_ml: PositiveFloat
    weight_check_share: float = Field(gt=0, lt=0.2)
    heating_low_c: PositiveInt
    heating_low_minutes: PositiveInt
    heating_high_c: PositiveInt
    heating_high_seconds: PositiveInt
    cooled_water_c: PositiveInt
    compared_grams: PositiveFloat
    use_judged_days: PositiveInt
    warn_days_ahead: PositiveInt


def supplies_settings(home: Path | None = None) -> SuppliesSettings:
    """The room's settings with the household's own changes under [supplies]. Raises WrongUse."""
    return load("supplies", SuppliesSettings, home)


@cache
def shipped() -> SuppliesSettings:
    """The shipped settings."""
    return supplies_settings()
