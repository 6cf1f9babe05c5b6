"""Settings of the nightly service: `config/nightly.toml` as frozen models; units are in the names."""

import re
import unicodedata
from datetime import time
from email.utils import parseaddr
from pathlib import Path
from typing import Final, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    NonNegativeFloat,
    NonNegativeInt,
    PositiveFloat,
    PositiveInt,
    field_validator,
    model_validator,
)

from gramrise.config.settings import load
from gramrise.domain.printable import printable

# One @, no blanks, no control or quoting characters on either side of it.
ADDRESS: Final = r"^[^@\s<>,;\x00-\x1f\x7f]+@[^@\s<>,;\x00-\x1f\x7f]+$"
# Octets before and after the @ (RFC 5321, section 4.5.3.1).
LONGEST_LOCAL_PART: Final = 64
LONGEST_DOMAIN: Final = 255
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def checked_address(address: str) -> str:
    """The address itself. Raises ValueError, saying how to mend, for one that no mail server can be told.

    Letters beyond ASCII are allowed: a domain has a form for them, and a mailbox goes to servers that offer SMTPUTF8.
    """
    local, _, domain = address.rpartition("@")
    if len(local.encode()) > LONGEST_LOCAL_PART or len(domain.encode()) > LONGEST_DOMAIN:
        raise ValueError("it is too long for an address; look for a slip of the pen")
    try:
        domain.encode("idna")
    except UnicodeError as problem:
        raise ValueError("what stands behind its @ cannot be a domain; look for a slip of the pen") from problem
    return address


def wire_form(address: str) -> str:
    """The address with its domain in the ASCII form that mail servers and headers take."""
    local, _, domain = address.rpartition("@")
    return f"{local}@{domain.encode('idna').decode('ascii')}"


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Recipient(_Frozen):
    """Who gets mail about a person. An address that cannot be written is that person's trouble alone."""

    address: str
    role: Literal["parent", "person", "clinic", "school"] = "parent"

    @property
    def wrong(self) -> str:
        """Why no mail server can be told the address; '' for one that can."""
        if re.fullmatch(ADDRESS, self.address) is None:
            return "it is not one address"
        try:
            checked_address(self.address)
        except ValueError as problem:
            return str(problem)
        return ""


class Smtp(_Frozen):
    """The mail server; no host: mails become files."""

    host: str
    port: PositiveInt
    security: Literal["starttls", "tls", "none"]
    user: str
    password_file: str
    sender: str  # an address, or a name and the address: Family <family@example.org>
    trust_file: str
    timeout_seconds: PositiveFloat
    taken_timeout_seconds: PositiveFloat

    @field_validator("sender")
    @classmethod
    def _can_be_written(cls, sender: str) -> str:
        if any(unicodedata.category(letter) == "Cc" for letter in sender):
            raise ValueError("sender must stand on one line, without control characters")
        if sender:
            checked_address(parseaddr(sender)[1] or sender)
        return sender

    @property
    def sender_name(self) -> str:
        """The name before the address; '' where there is none."""
        return parseaddr(self.sender)[0]

    @property
    def sender_address(self) -> str:
        """The address alone, as the server is told it."""
        return parseaddr(self.sender)[1]

    @model_validator(mode="after")
    def _sends_safely(self) -> "Smtp":
        if self.host and re.fullmatch(ADDRESS, self.sender_address) is None:
            raise ValueError("sender must be the address the mails come from; a name with a comma stands in quotes")
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
    most_unanswered: PositiveInt
    give_up_refused_days: PositiveFloat
    most_broken_sessions: PositiveInt
    no_night_hours: PositiveFloat
    no_readings_days: PositiveFloat
    mail_failing_hours: PositiveFloat
    disk_free_mb: PositiveFloat
    clock_jump_minutes: PositiveFloat
    clock_jump_kept_days: PositiveFloat
    set_aside_named_days: PositiveFloat
    workers: Literal["here", "processes", "dask"]
    worker_processes: NonNegativeInt
    persons_per_task: PositiveInt
    dask_scheduler: str
    keep_files_days: NonNegativeInt
    keep_mail_days: NonNegativeInt
    keep_runs_days: NonNegativeInt
    recipients: dict[str, tuple[Recipient, ...]]
    smtp: Smtp

    @property
    def last_weekday(self) -> int:
        """The week's last day as datetime counts it, Monday 0."""
        return WEEKDAYS.index(self.week_ends_on)

    def weekly_recipients(self, person_id: str) -> tuple[Recipient, ...]:
        """Who gets the weekly report about a person."""
        mine = self.recipients.get(person_id, ())
        return tuple(each for each in mine if each.role in self.weekly_for_roles and not each.wrong)

    def wrong_addresses(self) -> list[str]:
        """A sentence for each address that no mail can go to."""
        return [
            f"{person_id}: no mail can go to '{printable(each.address[:80])}': {each.wrong}. To mend: write one "
            "address, as name@place, for each recipient under [nightly.recipients] in gramrise.toml."
            for person_id, mine in self.recipients.items()
            for each in mine
            if each.wrong
        ]


def nightly_settings(home: Path | None = None) -> NightlySettings:
    """The settings of a home. Raises WrongUse naming the key that is wrong."""
    return load("nightly", NightlySettings, home)
