"""What the words of a record change: a note that denies it, a preliminary status, a source by the household's name."""

import re
from typing import Final

from gramrise.connectors.standards import Fact, Held, Kind, Record
from gramrise.domain.sources import Source
from gramrise.intake.cells import source_named
from gramrise.intake.context import ReadContext
from gramrise.intake.rows import denies_its_row, is_of_another, names_another_amount, speaks_of_another
from gramrise.intake.words import folded

_SPLIT: Final = re.compile(r"[.,;:!?()\n/-]+")
_MOST_LETTERS: Final = 2000  # of a note; our choice: no remark of a person is longer
_FOUND_LETTERS: Final = 80
_GIVEN: Final = frozenset({Kind.DOSE, Kind.INSULIN, Kind.FOOD, Kind.BASAL, Kind.LONG_INSULIN})
_REPLACED: Final = frozenset({"medication_unknown"})  # what is known by its name after all


def settle_words(records: list[Record], context: ReadContext) -> None:
    """Changes records of one person: what their words deny is held, what they name of this person's is a dose."""
    for record in records:
        _settle_name(record, context)
        held = _denied(record, context) if record.facts else None
        if held is not None:
            record.facts, record.gaps, record.held = (), 0, (held,)


def _settle_name(record: Record, context: ReadContext) -> None:
    """A medication without a code whose words are the name of a source of this person is a dose of it, or held."""
    if record.by_name is None or record.withdrawn or record.repeats:
        return
    words, stated = record.by_name
    if source_named(words, _sources(stated, context)) is None or any(one.code not in _REPLACED for one in record.held):
        return
    record.passed = ""
    record.facts, record.held = ((stated,), ()) if isinstance(stated, Fact) else ((), (stated,))


def _sources(stated: Fact | Held, context: ReadContext) -> tuple[Source, ...]:
    """The person's sources on the day of the record; where it has no time, today's."""
    person = context.person
    if isinstance(stated, Held) or stated.at is None:
        return person.sources_now()
    return person.sources.on_or_first(stated.at.utc.astimezone(person.zone_now()).date()) or ()


def own_source_of(record: Record, sources: tuple[Source, ...]) -> Source | None:
    """The source that a record means by the household's own name for it; None where codes say what it is."""
    return source_named(record.by_name[0], sources) if record.by_name is not None else None


def _denied(record: Record, context: ReadContext) -> Held | None:
    """Why a record does not count although it states something."""
    given = any(fact.kind in _GIVEN for fact in record.facts)
    dose = any(fact.kind is Kind.DOSE for fact in record.facts)
    for note in record.notes:
        if denies(note, context, given=given, dose=dose):
            return Held("note_denies", "note", note[:_FOUND_LETTERS])
        if _of_another(record, note, context):
            return Held("another_person", "note", note[:_FOUND_LETTERS])
    return Held("not_final", "status", "preliminary") if "preliminary" in record.flags else None


def _of_another(record: Record, note: str, context: ReadContext) -> bool:
    """Whether a note says that the record is another's; what a sensor measured stays unless it says whose it is."""
    judge = is_of_another if any(fact.kind is Kind.READING for fact in record.facts) else speaks_of_another
    return judge(note[:_MOST_LETTERS], context)


def denies(note: str, context: ReadContext, *, given: bool, dose: bool = False) -> bool:
    """Whether a note says that the record does not count: 'entered by mistake', 'compression, wrong'.

    given  it was given or eaten: it may also have been planned, refused, or spat out
    dose   it is glucose given: it may also have been half of it, or the sum of a day
    """
    text = note[:_MOST_LETTERS]
    if denies_its_row(text, context, given=given) or (dose and names_another_amount(text, context)):
        return True
    if dose and context.words.listed("amount_headers", "sums").intersection(folded(text).split()):
        return True
    bad = context.words.listed("states", "bad") | (context.words.listed("states", "plan") if given else frozenset())
    return any(" ".join(piece.split()) in bad for piece in _SPLIT.split(folded(text)))
