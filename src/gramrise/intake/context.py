"""Everything beside a table that its reading depends on."""

from dataclasses import dataclass
from datetime import datetime

from gramrise.domain.person import Person
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.words import HeaderWords, folded


@dataclass(frozen=True, slots=True)
class ReadContext:
    """Whose file it is, what is plausible, which words people use, and when it is read.

    others  ids of the other persons of the household, folded: a file that names one of them may be theirs
    """

    person: Person
    settings: IntakeSettings
    words: HeaderWords
    now_utc: datetime
    containers: tuple[str, ...] = ()  # names of the tins and bags that were counted before
    others: frozenset[str] = frozenset()


def other_ids(person: Person, household: tuple[Person, ...]) -> frozenset[str]:
    """The ids of everybody else, as `ReadContext.others` holds them."""
    return frozenset(folded(one.person_id) for one in household) - {folded(person.person_id)}
