"""What people may change about the clinic review: `config/review.toml`."""

from pydantic import BaseModel, ConfigDict, Field

from gramrise.config.settings import load


class ReviewSettings(BaseModel):
    """Units are in the keys; each value's source stands in the file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    danger_days: int = Field(ge=1)
    visit_days: int = Field(ge=1)
    course_weeks: int = Field(ge=4)
    unsigned_days: int = Field(ge=1)
    trace_before_minutes: int = Field(gt=0)
    trace_after_minutes: int = Field(gt=0)
    trace_lowest_mg_dl: float = Field(gt=0)
    trace_highest_mg_dl: float = Field(gt=140)
    most_danger_lows: int = Field(ge=1)
    most_notes: int = Field(ge=1)
    most_shown: int = Field(ge=1)
    silent_days: int = Field(ge=1)
    fhir_days: int = Field(ge=1)


DEFAULT = load("review", ReviewSettings)
