"""Everything beside a table that its reading depends on."""

from dataclasses import dataclass
from datetime import datetime

from gramrise.domain.person import Person
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import HeaderWords


@dataclass(frozen=True, slots=True)
class ReadContext:
    """Whose file it is, what is plausible, which words people use, and when it is read."""

    person: Person
    settings: IntakeSettings
    words: HeaderWords
    now_utc: datetime
    containers: tuple[str, ...] = ()  # names of the tins and bags that were counted before
