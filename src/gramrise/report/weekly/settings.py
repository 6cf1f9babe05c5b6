"""What people may change about the weekly report: `config/report.toml`."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from gramrise.config.settings import load

Paper = Literal["a4", "letter"]


class ReportSettings(BaseModel):
    """Units are in the keys; each value's source stands in the file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    paper: Paper
    most_lows: int = Field(ge=1, le=12)
    most_given_rows: int = Field(ge=1)
    most_team_lows: int = Field(ge=1)
    most_questions: int = Field(ge=1)
    least_change: float = Field(gt=0, lt=1)
    compared_from_share: float = Field(gt=0, le=1)
    predictions_counted: int = Field(ge=1)
    single_treatments_days: int = Field(ge=1)
    least_dip_probability: float = Field(ge=0.5, le=1)
    earlier_level_minutes: float = Field(gt=0)
    earlier_level_within_mg_dl: float = Field(gt=0)
    sudden_drop_minutes: float = Field(gt=0)
    explained_below_share: float = Field(gt=0, lt=1)
    night_hour: int = Field(ge=0, le=23)
    strip_lowest_mg_dl: float = Field(gt=0)
    strip_highest_mg_dl: float = Field(gt=140)
    school_from_hour: int = Field(ge=0, le=23)
    school_to_hour: int = Field(ge=1, le=24)
    school_way_hours: int = Field(ge=0, le=6)
    mail_picture_dots_per_inch: float = Field(gt=0)


DEFAULT = load("report", ReportSettings)
