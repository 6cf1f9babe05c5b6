"""Settings of the path, the shape and the single treatment: config/estimate_path.toml."""

from functools import cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from gramrise.config.settings import load


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class InsulinSettings(_Frozen):
    """How logged insulin and food act on the untreated path."""

    action_end_min: float = Field(gt=0)
    fall_mg_dl_kg_per_unit: float = Field(gt=0)
    rise_mg_dl_kg_per_g: float = Field(gt=0)
    meal_gut_min: float = Field(gt=0)
    meal_end_min: float = Field(gt=0)


class PathMultipliers(_Frozen):
    """One path of the grid; numbers multiply the shipped parameters."""

    name: str
    prior: float = Field(gt=0)  # its prior weight
    pull_times: float = Field(gt=0, default=1.0)
    lasting_times: float = Field(gt=0, default=1.0)
    bend_times: float = Field(gt=0, default=1.0)
    drive_times: float = Field(gt=0, default=1.0)


class GridSettings(_Frozen):
    """The grid of candidates: every path, shape and gut speed; numbers multiply the shipped parameters."""

    path: tuple[PathMultipliers, ...]
    disposal: tuple[float, ...]
    gut: tuple[float, ...]  # with each disposal: keeps the peak where it is published to be
    gut_times: tuple[float, ...]


class StretchSettings(_Frozen):
    """Which moments begin an untreated stretch, and how far it is followed."""

    highest_mg_dl: float
    falling_mg_dl_per_min: float = Field(lt=0)
    fall_over_min: float = Field(gt=0)
    apart_min: float = Field(gt=0)
    eaten_before_min: float = Field(ge=0)
    times_unsure_min: float = Field(ge=0)
    least_after_min: float = Field(ge=0)
    latest_n: int = Field(ge=0)  # how many, from how many days back, weigh the candidates, and with what power
    latest_days: float = Field(gt=0)
    evidence_power: float = Field(ge=0, le=1)


class PlaceboSettings(_Frozen):
    """How pretended doses on untreated stretches correct the measured rises."""

    part: float = Field(ge=0, le=1)
    centre_mg_dl: float
    person_sd_mg_dl: float = Field(gt=0)
    highest_start_mg_dl: float = Field(gt=0)
    fewest: int = Field(ge=1)
    stretch_sd_mg_dl: float = Field(gt=0)
    outlying_sds: float = Field(gt=0)


class PathSettings(_Frozen):
    """Settings of path, rise shape and single treatment; units in the names."""

    run_in_min: float = Field(gt=0)
    tail_min: float = Field(gt=0)
    thin_min: float = Field(gt=0)
    fewest_before: int = Field(ge=1)
    fewest_after: int = Field(ge=1)
    after_from_min: float
    dose_shift_min: tuple[int, ...]
    dose_shift_sd_min: float = Field(gt=0)
    dose_shift_far_share: float = Field(ge=0, le=1)
    dose_shift_far_sd_min: float = Field(gt=0)
    score_shift_min: tuple[int, ...]
    least_weight: float = Field(gt=0, lt=1)
    most_against: float = Field(gt=0)
    evidence_power: float = Field(gt=0, le=1)
    evidence_half_n: float = Field(gt=0)
    grid: GridSettings
    stretches: StretchSettings
    placebo: PlaceboSettings
    insulin: InsulinSettings
    default: dict[str, Any]

    @property
    def window_minutes(self) -> int:
        """Whole minutes from the start of the run-in to the longest end that is looked at."""
        return int(self.run_in_min + self.tail_min) + LONGEST_CHAIN_MIN


# A chain of doses, neighbours under 60 minutes apart, is followed so far: our choice, longer chains are cut.
LONGEST_CHAIN_MIN = 180


@cache
def shipped() -> PathSettings:
    """The shipped settings."""
    return path_settings(None)


def path_settings(home: Path | None) -> PathSettings:
    """The settings with the household's own changes."""
    return load("estimate_path", PathSettings, home)
