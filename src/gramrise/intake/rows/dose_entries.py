"""Glucose given, from grams, amounts of a source, or the words people write."""

import re
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import date, datetime

import polars as pl

from gramrise.domain.batch import Question
from gramrise.domain.frames import DOSES, EVENTS, UTC
from gramrise.domain.person import Person
from gramrise.domain.sources import AmountUnit, Form, Source
from gramrise.domain.words import EventKind
from gramrise.intake.amount_sizes import AMOUNT_LARGE, AMOUNT_REFUSED, doubt_of_size
from gramrise.intake.cells import (
    Given,
    ReadAmount,
    of_another,
    of_source,
    read_amount,
    read_number,
    source_named,
    who_noticed,
)
from gramrise.intake.context import ReadContext
from gramrise.intake.rows.amount_questions import amount_question
from gramrise.intake.rows.other_persons import denies_its_row, speaks_of_another
from gramrise.intake.words import HeaderWords, folded

# Questions about an amount that may be glucose although no word names it.
_MAY_BE_GLUCOSE = frozenset(
    {"bare_amount", "bottle_size", "no_amount", "which_source", "left_or_given", "amount_large"}
)
# Struck out between tildes or letter by letter, or crossed.
_STRUCK_OUT = re.compile("~~[^~]{1,200}~~|[\u0335-\u0338\u2717\u2718\u2716\u2715\u274c\u274e\U0001f6ab\U0001f5d9]")
_FIRST_WORD = re.compile(r"([^\W\d_]{1,40})[\s:,]{1,9}")
_MINUS = frozenset("-\u2212\u2013")


@dataclass(frozen=True, slots=True)
class DoseEntry:
    """One row of a log of glucose given, with its instant."""

    row: int
    at_utc: datetime
    day: date  # on the clock of the file
    text: str  # the amount as written
    source_text: str = ""
    form: Form = Form.UNKNOWN
    note: str = ""
    noticed: str = ""  # child | sensor | adult, where it is stated apart from the words


@dataclass(slots=True)
class DosesOfEntries:
    """Doses, and the events and questions in the same words; bad rows as (row, code, found)."""

    doses: list[dict[str, object]] = field(default_factory=list)
    events: list[dict[str, object]] = field(default_factory=list)
    # index of the dose, what was read, text, and `Given.meant`
    asked: list[tuple[int, ReadAmount, str, str]] = field(default_factory=list)
    unstated_sources: list[str] = field(default_factory=list)  # what each dose of unknown strength counts
    bad: list[tuple[int, str, str]] = field(default_factory=list)
    repeated: int = 0  # entries that stand again further down: the log was joined to itself
    below: set[int] = field(default_factory=set)  # rows of a minute that stood further up, with another amount
    sources_at: dict[datetime, set[str]] = field(default_factory=dict)


def doses_of_entries(
    entries: list[DoseEntry],
    context: ReadContext,
    origin: str,
    remarks_too: bool,
    dosed_rows: Collection[int] = (),
    in_order: bool = True,
    heading: str = "",
) -> DosesOfEntries:
    """Reads each entry against the sources the person had on that day; equal texts are read once.

    dosed_rows  rows whose dose another column has given: a remark in them adds no second one
    heading     title of the column in which the amounts stand
    in_order    the entries are lines of a log; False: records with names of their own, each of which counts
    """
    person = context.person
    taken = DosesOfEntries()
    entries = _not_crowded(_told_once(entries, taken) if in_order else entries, taken, context)
    known: dict[tuple[str, str, tuple[Source, ...]], ReadAmount] = {}
    for entry in entries:
        sources = person.sources.on_or_first(entry.day) or ()
        key = (entry.text, entry.source_text, sources)
        if key not in known:
            alone = _without_own_name(entry.text, person)
            plain = _read(alone, entry.source_text, sources, context.words)
            known[key] = _doubted_where_anothers(plain, alone, entry.source_text, sources, context, heading)
        read = known[key]
        if remarks_too and entry.row in dosed_rows:
            events = _happenings(entry, read, person, entry.text)
            taken.events += events or [_event(entry, person, EventKind.NOTE.value, entry.text)]
            continue
        if _contradicts_above(entry, read, taken):
            taken.bad.append((entry.row, "amount_contradicts", entry.text))
            continue
        _take(taken, entry, read, context, origin, remarks_too)
        taken.unstated_sources += _sources_not_stated(entry, known[key], sources)
    return taken


def _told_once(entries: list[DoseEntry], taken: DosesOfEntries) -> list[DoseEntry]:
    """The entries, without those that stand again after another minute's: two copies of a log were joined.

    What stands line under line within its minute is two, as it is in two files known by their lines: so many as one
    copy states.
    """
    stated: Counter[tuple[datetime, str, str]] = Counter()
    here: Counter[tuple[datetime, str, str]] = Counter()
    minute, above = None, set[datetime]()
    left = []
    for entry in entries:
        own_minute = _minute(entry)
        if own_minute != minute:
            above |= {minute} if minute is not None else set()
            minute = own_minute
            here.clear()
        key = (entry.at_utc, entry.text, entry.source_text)
        here[key] += 1
        if here[key] > stated[key]:
            stated[key] += 1
            left.append(entry)
            taken.below |= {entry.row} if minute in above else set()
    taken.repeated += len(entries) - len(left)
    return left


def _minute(entry: DoseEntry) -> datetime:
    return entry.at_utc.replace(second=0, microsecond=0)


def _contradicts_above(entry: DoseEntry, read: ReadAmount, taken: DosesOfEntries) -> bool:
    """Whether the entry names another amount of a source that was given in this minute further up in the log."""
    known = taken.sources_at.setdefault(_minute(entry), set())
    named = {one.source for one in read.given}
    if entry.row in taken.below and known & named:
        return True
    known |= named
    return False


def _without_own_name(text: str, person: Person) -> str:
    """The words of an entry, without the person's name before them: it is nothing that was counted."""
    own = {folded(name) for name in (person.person_id, person.name, person.name.partition(" ")[0])}
    first = _FIRST_WORD.match(text)
    return text[first.end() :] if first is not None and folded(first[1]) in own and first.end() < len(text) else text


def _not_crowded(entries: list[DoseEntry], taken: DosesOfEntries, context: ReadContext) -> list[DoseEntry]:
    """The entries, without those of minutes in which more amounts stand than can be given: these are set aside."""
    minutes = Counter(entry.at_utc.replace(second=0, microsecond=0) for entry in entries)
    most = context.settings.most_amounts_at_once
    crowded = {minute for minute, count in minutes.items() if count > most}
    left = []
    for entry in entries:
        if entry.at_utc.replace(second=0, microsecond=0) in crowded:
            taken.bad.append((entry.row, "amounts_too_many", entry.text))
        else:
            left.append(entry)
    return left


def _sources_not_stated(entry: DoseEntry, read: ReadAmount, sources: tuple[Source, ...]) -> list[str]:
    """What an entry counts, where the person has no source that it could be of: a name, a unit, or bare numbers."""
    if read.question not in {"unknown_source", "bare_amount"}:
        return []
    if entry.source_text:
        return [entry.source_text] if source_named(entry.source_text, sources) is None else []
    counted = {one.unit for one in read.given if one.grams is None}
    return (
        []
        if any(not unit or source.unit.value == unit for source in sources for unit in counted)
        else [read.about_word or " ".join(sorted(counted)) or "a number alone"]
    )


def _read(text: str, source_text: str, sources: tuple[Source, ...], words: HeaderWords) -> ReadAmount:
    if not source_text:
        return read_amount(text, sources, words)
    named = source_named(source_text, sources)
    if named is None:
        joined = read_amount(f"{text} {source_text}", sources, words)
        if joined.given and joined.question in {"", "glucose_or_product"}:
            return joined  # the column holds a form or a word of the notes: '3' 'pieces'
        alone = read_amount(text, (), words).given
        number, unit = (alone[0].amount, alone[0].unit) if len(alone) == 1 else (read_number(text), "")
        given = Given(source_text, Form.UNKNOWN, number, unit, None, False)
        return ReadAmount((given,), joined.remarks, question="unknown_source", about_word=source_text)
    number = read_number(text)
    if number is not None and number > 0:
        return ReadAmount((of_source(named, number, named.unit),))
    read = read_amount(text, sources, words, named)
    return _grams_of_product(text, source_text, read, sources, words)


def _grams_of_product(
    text: str, source_text: str, read: ReadAmount, sources: tuple[Source, ...], words: HeaderWords
) -> ReadAmount:
    """Grams beside the name of a tablet, drink or gel are asked about as where both stand in one text."""
    if read.question or [one.unit for one in read.given] != [AmountUnit.GRAM.value]:
        return read
    joined = read_amount(f"{text} {source_text}", sources, words)
    return joined if joined.question == "glucose_or_product" else read


def _take(
    taken: DosesOfEntries, entry: DoseEntry, read: ReadAmount, context: ReadContext, origin: str, remarks_too: bool
) -> None:
    person = context.person
    said = " ".join(part for part in (entry.text, entry.note) if part)
    trouble = _trouble_of(entry, read, said, context, remarks_too)
    if trouble:
        taken.bad.append((entry.row, trouble, entry.text))
        return
    if not read.given or (remarks_too and not read.names_glucose and not _may_be_glucose(read)):
        taken.events += _happenings(entry, read, person, said) or [_event(entry, person, EventKind.NOTE.value, said)]
        return
    read = _doubted_where_large(read, entry, context)
    noticed = entry.noticed or read.noticed or who_noticed(entry.note, context.words)
    for one in read.given:
        taken.doses.append(_dose(entry, one, read, person, origin) | {"noticed": noticed})
        if read.question and one.grams is None:
            taken.asked.append((len(taken.doses) - 1, read, entry.text, one.meant))
    taken.events += _happenings(entry, read, person, said)
    if read.counts or read.insulin:  # what was left, and insulin, is no amount given; the words stay
        taken.events.append(_event(entry, person, EventKind.NOTE.value, said))


def _trouble_of(entry: DoseEntry, read: ReadAmount, said: str, context: ReadContext, remarks_too: bool) -> str:
    """Why an entry is set aside, a key of TROUBLES; '' where it is an amount given or a remark that is kept."""
    settings = context.settings
    grams = sum(one.grams or 0.0 for one in read.given)
    negative = entry.text[:1] in _MINUS and entry.text[1:].lstrip(" .,")[:1] in {*"0123456789½¼¾⅓⅔"}
    bare = not read.given and not remarks_too
    found = {
        "formula": said.startswith(("=", "@")),
        "amount_negative": negative and not remarks_too,
        "insulin_named": bare and bool(read.insulin),
        "count_not_given": bare and bool(read.counts),
        "amount_zero": bare and not read.happenings and read_number(entry.text) == 0,
        "no_amount": bare and not read.happenings,
        "row_denied": bool(read.given)
        and (bool(_STRUCK_OUT.search(said)) or denies_its_row(said, context, given=False)),
        "another_person": bool(read.given) and speaks_of_another(said, context),
        "amounts_too_many": len(read.given) > settings.most_amounts_at_once,
        AMOUNT_REFUSED: doubt_of_size(grams, None, settings) == AMOUNT_REFUSED,
    }
    return next((code for code, holds in found.items() if holds), "")


def _doubted_where_large(read: ReadAmount, entry: DoseEntry, context: ReadContext) -> ReadAmount:
    """More than one treatment holds is asked about; until the answer it has no grams and no source."""
    kg = context.person.weights_kg.on_or_first(entry.day)
    grams = sum(one.grams or 0.0 for one in read.given)
    if read.question or kg is None or doubt_of_size(grams, kg, context.settings) != AMOUNT_LARGE:
        return read
    told = f"{grams:.0f} g of glucose, {kg:.0f} kg"
    unsaid = tuple(
        Given("", one.form, one.amount, "", None, one.may_be_weaker, meant=f"{one.unit}:{one.source}")
        for one in read.given
    )
    return replace(read, given=unsaid, question=AMOUNT_LARGE, about_word=told)


def _doubted_where_anothers(
    read: ReadAmount, text: str, source_text: str, sources: tuple[Source, ...], context: ReadContext, heading: str
) -> ReadAmount:
    """'2 candy' is no two of the brother's own where 'candy' is the name of the sister's source: it is asked about."""
    others = context.sources_of_others
    if not others or read.question or not any(one.source for one in read.given):
        return read
    if source_text and source_named(source_text, sources) is not None:
        return read  # its column says of what; the word there only counts
    found = of_another(f"{text} {source_text}", sources, others) or of_another(heading, sources, others, heading=True)
    if found is None:
        return read
    unsaid = tuple(Given("", Form.UNKNOWN, one.amount, one.unit, None, False) for one in read.given)
    return replace(read, given=unsaid, question="source_of_another", about_word=found[0], whose=found[1])


def _may_be_glucose(read: ReadAmount) -> bool:
    """Among remarks, pieces, mL and bare numbers may be glucose given; grams without a name are food."""
    counted = any(one.unit in {AmountUnit.PIECE.value, AmountUnit.ML.value} for one in read.given)
    return counted or read.question in _MAY_BE_GLUCOSE


def _dose(entry: DoseEntry, one: Given, read: ReadAmount, person: Person, origin: str) -> dict[str, object]:
    return {
        "person_id": person.person_id,
        "taken_at_utc": entry.at_utc,
        "source": one.source,
        "ordinal": 0,
        "form": (one.form if one.form is not Form.UNKNOWN else entry.form).value,
        "amount": one.amount,
        "amount_unit": one.unit,
        "grams": one.grams,
        "may_be_weaker": one.may_be_weaker,
        "remarks": list(read.remarks),
        "origin": origin,
    }


def _happenings(entry: DoseEntry, read: ReadAmount, person: Person, said: str) -> list[dict[str, object]]:
    return [_event(entry, person, kind, said) for kind in read.happenings]


def _event(entry: DoseEntry, person: Person, kind: str, said: str) -> dict[str, object]:
    return {
        "person_id": person.person_id,
        "at_utc": entry.at_utc,
        "until_utc": None,
        "kind": kind,
        "amount": None,
        "text": said,
    }


def dose_frame(taken: DosesOfEntries) -> pl.DataFrame:
    """DOSES with ordinals among doses of one source in one minute, by time and amount: file order does not matter."""
    frame = pl.DataFrame(taken.doses, schema=DOSES.schema, orient="row")
    if frame.height == 0:
        return DOSES.empty()
    minute = pl.col("taken_at_utc").dt.truncate("1m")
    ordered = frame.with_row_index("at").sort("taken_at_utc", "source", "amount", "grams", "at", nulls_last=True)
    numbered = ordered.with_columns(ordinal=pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over(minute, "source"))
    return numbered.sort("at").drop("at").with_columns(pl.col("taken_at_utc").cast(UTC))


def event_frame(events: list[dict[str, object]]) -> pl.DataFrame:
    """EVENTS that stand beside doses, in the order of the file."""
    return pl.DataFrame(events, schema=EVENTS.schema, orient="row")


def dose_questions(taken: DosesOfEntries, frame: pl.DataFrame, person: Person) -> list[Question]:
    """One question for each dose whose amount stays open. `frame` is the dose frame of `taken`, in its order."""
    questions = []
    for at, read, text, meant in taken.asked:
        dose = frame.row(at, named=True)
        sources = person.sources.on_or_first(dose["taken_at_utc"].date()) or ()
        questions.append(amount_question(person, dose, read, text, sources, meant))
    return questions
