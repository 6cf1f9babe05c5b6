"""Glucose given in records: grams, or an amount of one of the person's sources, as in a table or a note."""

from collections.abc import Callable
from dataclasses import replace

from gramrise.connectors.standards import Fact, Held, Record
from gramrise.domain.sources import Form, Source
from gramrise.intake.cells import form_named
from gramrise.intake.context import ReadContext
from gramrise.intake.rows import DoseEntry, TakenRows, dose_frame, dose_questions, doses_of_entries
from gramrise.intake.settings import IntakeSettings
from gramrise.intake.standards.record_words import own_source_of

_TROUBLES = {"amount_zero": "amount_not_positive", "amount_negative": "amount_not_positive"}
# Our choice: a milligram. Grams found by a strength have more digits than anybody weighs.
_DIGITS = 3
_FORMS = {"piece": Form.TABLET, "mL": Form.LIQUID}


# Pieces or mL of one entry; our choice: more is a slip, and a number is written out in plain digits below it.
_MOST_COUNTED = 1000.0


def dose_trouble(fact: Fact, settings: IntakeSettings) -> Held | None:
    """What is wrong with an amount before its words are looked at."""
    amount = fact.amount or 0.0
    if round(amount, _DIGITS) <= 0:
        return Held("amount_not_positive", "dose", f"{amount:g}")
    if amount > (settings.most_grams_in_one_dose if fact.unit == "g" else _MOST_COUNTED):
        return Held("amount_implausible", "dose", f"{amount:g} {fact.unit}")
    return None


def add_dose_records(
    taken: TakenRows,
    doses: list[tuple[Record, Fact]],
    context: ReadContext,
    set_aside: Callable[[Record, Held], None],
) -> None:
    """Adds the doses of records; what stays open about an amount is asked, as for any other log."""
    zone = context.person.zone_now()
    entries = []
    for at, (record, sent) in enumerate(doses):
        assert sent.at is not None  # a dose without a time is held by its reader
        day = sent.at.utc.astimezone(zone).date()
        sources = context.person.sources.on_or_first(day) or ()
        fact, named = _of_own_source(sent, sources), own_source_of(record, sources)
        grams = fact.unit == "g"
        entries.append(
            DoseEntry(
                row=at,
                at_utc=sent.at.utc,
                day=day,
                text=f"{round(fact.amount or 0.0, _DIGITS)} {'pieces' if fact.unit == 'piece' else fact.unit}",
                source_text=named.name if named is not None else "" if grams else fact.text,
                form=_FORMS.get(fact.counted_in, form_named(fact.text, context.words)),
            )
        )
    found = doses_of_entries(entries, context, "file", remarks_too=False, in_order=False)
    frame = dose_frame(found)
    taken.add_doses(frame, dose_questions(found, frame, context.person), found.unstated_sources)
    for at, code, text in found.bad:
        set_aside(doses[at][0], Held(_TROUBLES.get(code, code), "dose", text))


def _of_own_source(fact: Fact, sources: tuple[Source, ...]) -> Fact:
    """An amount of a source by its own name, where the sender's grams are those of the person's own strength.

    So what was written from here is known when it comes back. Where the grams differ, they are kept as sent.
    """
    own = next((source for source in sources if source.name == fact.text), None)
    if own is None or fact.unit != "g" or fact.counted is None or fact.counted_in != own.unit:
        return fact
    same = abs(own.grams(fact.counted, own.unit) - (fact.amount or 0.0)) < 10**-_DIGITS
    return replace(fact, amount=fact.counted, unit=fact.counted_in) if same else fact
