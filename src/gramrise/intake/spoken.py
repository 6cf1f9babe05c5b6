"""One amount as a person says it, to a batch. Apart from `reading`: to log it, no table need be recognised."""

from datetime import datetime

from gramrise.domain.batch import Batch
from gramrise.domain.person import Person
from gramrise.intake.context import ReadContext, other_ids, sources_of_others
from gramrise.intake.rows import spoken_batch
from gramrise.intake.settings import IntakeSettings, shipped_settings
from gramrise.intake.words import HeaderWords, shipped_words


def read_note(
    text: str,
    taken_at_utc: datetime,
    person: Person,
    *,
    now_utc: datetime,
    settings: IntakeSettings | None = None,
    words: HeaderWords | None = None,
    noticed: str = "",
    household: tuple[Person, ...] = (),
) -> Batch:
    """One amount as a person says it, given at a known instant: '3 pieces'. Its rows have origin 'give'.

    household  everybody of the home: words that name another of them are set aside, their sources are asked about
    """
    known = words or shipped_words()
    context = ReadContext(
        person,
        settings or shipped_settings(),
        known,
        now_utc,
        others=other_ids(person, household),
        sources_of_others=sources_of_others(person, household, known),
    )
    return spoken_batch(text, taken_at_utc, context, noticed)
