"""Settings of the nightly service: `config/nightly.toml` as frozen models; units are in the names."""

from datetime import time
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, NonNegativeFloat, PositiveFloat, PositiveInt, model_validator

from gramrise.config.settings import load

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Recipient(_Frozen):
    """Who gets mail about a person."""

    address: str = Field(pattern=r"^[^@\s<>,;]+@[^@\s<>,;]+$")
    role: Literal["parent", "person", "clinic", "school"] = "parent"


class Smtp(_Frozen):
    """The mail server; no host: mails become files."""

    host: str
    port: PositiveInt
    security: Literal["starttls", "tls", "none"]
    user: str
    password_file: str
    sender: str
    trust_file: str
    timeout_seconds: PositiveFloat

    @model_validator(mode="after")
    def _sends_safely(self) -> "Smtp":
        if self.host and "@" not in self.sender:
            raise ValueError("sender must be the address the mails come from")
        if self.host and self.security == "none" and self.host not in {"localhost", "127.0.0.1", "::1"}:
            raise ValueError("mail with health values goes to another machine only by starttls or tls")
        return self


class NightlySettings(_Frozen):
    night_at: time
    week_ends_on: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
    mail_at: time
    most_weeks_caught_up: PositiveInt
    weekly_for_roles: tuple[str, ...]
    rest_seconds: NonNegativeFloat
    look_every_minutes: PositiveInt
    misfire_grace_hours: PositiveInt
    retry_first_minutes: PositiveFloat
    retry_longest_hours: PositiveFloat
    no_night_hours: PositiveFloat
    no_readings_days: PositiveFloat
    mail_failing_hours: PositiveFloat
    disk_free_mb: PositiveFloat
    clock_jump_minutes: PositiveFloat
    clock_jump_kept_days: PositiveFloat
    recipients: dict[str, tuple[Recipient, ...]]
    smtp: Smtp

    @property
    def last_weekday(self) -> int:
        """The week's last day as datetime counts it, Monday 0."""
        return WEEKDAYS.index(self.week_ends_on)

    def weekly_recipients(self, person_id: str) -> tuple[Recipient, ...]:
        """Who gets the weekly report about a person."""
        return tuple(each for each in self.recipients.get(person_id, ()) if each.role in self.weekly_for_roles)


def nightly_settings(home: Path | None = None) -> NightlySettings:
    """The settings of a home. Raises WrongUse naming the key that is wrong."""
    return load("nightly", NightlySettings, home)
