"""Settings of the page, each with its unit in the name; values and their sources are in config/web.toml."""

from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from gramrise.config import settings


class WebSettings(BaseModel):
    """Where the page listens, how long devices stay let in, what it offers, and its limits."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    port: int = Field(gt=0, lt=65536)
    link_hours: int = Field(gt=0)
    parent_idle_days: int = Field(gt=0)
    clinic_idle_hours: int = Field(gt=0)
    note_use_minutes: int = Field(gt=0)
    warn_minutes: int = Field(gt=0)
    look_again_minutes: int = Field(gt=0)
    next_stays_minutes: int = Field(ge=0)
    listed_hours: int = Field(gt=0)
    ask_within_seconds: int = Field(gt=0)
    clock_ahead_minutes: int = Field(ge=0)
    not_yet_minutes: int = Field(ge=0)
    oldest_entry_days: int = Field(gt=0)
    pieces: tuple[int, ...] = Field(min_length=1)
    ml: tuple[int, ...] = Field(min_length=1)
    usual_days: int = Field(gt=0)
    most_food_grams: float = Field(gt=0)
    lows_days: int = Field(gt=0)
    most_amounts: int = Field(gt=0, le=12)
    requests_per_minute: int = Field(gt=0)
    let_in_tries_per_minute: int = Field(gt=0)
    uploads_per_hour: int = Field(gt=0)
    upload_most_mb: int = Field(gt=0)
    form_most_kb: int = Field(gt=0)
    silent_seconds: float = Field(gt=0)
    body_seconds: float = Field(gt=0)
    most_connections: int = Field(gt=0)


def web_settings(home: Path | None) -> WebSettings:
    """The settings of a home. Raises WrongUse naming the key that is wrong."""
    return settings.load("web", WebSettings, home)
