"""The records of one text as batches, one a person."""

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import median

from gramrise.connectors.fhir import FileReferences
from gramrise.connectors.standards import Kind, Record
from gramrise.domain.batch import Batch
from gramrise.domain.person import Person
from gramrise.intake.context import ReadContext
from gramrise.intake.files import FileMember
from gramrise.intake.problems import FileWaits
from gramrise.intake.standards.files import Standard, read_standard
from gramrise.intake.standards.owners import Owners
from gramrise.intake.standards.record_rows import RecordRows
from gramrise.intake.standards.record_words import settle_words
from gramrise.intake.standards.source_records import source_records

# Our choice: an hour of a sensor's readings; a meter's are never as dense.
DENSE_FROM_READINGS = 12


def member_batches(
    member: FileMember, standard: Standard, context: ReadContext, household: tuple[Person, ...]
) -> list[Batch]:
    """The batches of a text that is of a standard. Raises FileRefused, FileWaits."""
    assert member.text is not None  # a sheet is of no such standard
    found = read_standard(member.text, standard, member.name)
    owners = owners_of(member.name, context, household, found.references)
    digest = hashlib.sha256(member.data).hexdigest()
    batches = batches_of(found.records, standard, owners, context, digest)
    owners.check_whole()
    return [replace(batch, remarks=(*found.remarks, *batch.remarks)) for batch in batches]


def owners_of(
    file: str, context: ReadContext, household: tuple[Person, ...], references: FileReferences | None
) -> Owners:
    """Who may be who in a file; `references`: what it tells of its persons."""
    others = tuple(one for one in household if one.person_id != context.person.person_id)
    return Owners(
        file, context.person, (context.person, *others), context.settings.subjects, context.words, context.others,
        references,
    )  # fmt: skip


def batches_of(
    records: list[Record], standard: Standard, owners: Owners, context: ReadContext, digest: str
) -> list[Batch]:
    """Records as batches; of the person for whom the file is brought there is always one."""
    settle_open_glucose(records, standard, owners.file, context)
    divided = owners.divide(records)
    own = context.person.person_id
    batches = []
    for person_id in dict.fromkeys([own, *divided]):
        if person_id == own and not divided.get(own) and len(divided) > 0:
            continue
        batches.append(_batch(divided.get(person_id, []), standard, owners, context, digest, person_id))
    return batches


def _batch(
    records: list[Record], standard: Standard, owners: Owners, context: ReadContext, digest: str, person_id: str
) -> Batch:
    person = owners.person_of(person_id)
    own = person_id == context.person.person_id
    file = owners.file if own else f"{owners.file} ({person_id})"
    settle_words(records, replace(context, person=person))
    rows = RecordRows(file, replace(context, person=person))
    rows.add(records)
    taken = rows.finish()
    return Batch(
        person_id=person_id,
        file=file,
        content_hash=digest if own else hashlib.sha256(f"{digest} {person_id}".encode()).hexdigest(),
        layout=standard.name,
        rows_offered=taken.rows_offered,
        readings=taken.readings,
        fingers=taken.fingers,
        doses=taken.doses,
        events=taken.events,
        weights=taken.weights,
        source_records=source_records([] if person_id in context.settings.numbered_anew else records, person),
        quarantine=taken.quarantine,
        questions=tuple(taken.questions),
        remarks=rows.remarks,
        rows_repeated=taken.rows_repeated,
        rows_passed_over=taken.rows_passed_over,
    )


def settle_open_glucose(records: list[Record], standard: Standard, file: str, context: ReadContext) -> None:
    """Glucose whose origin the records leave open becomes of a sensor or of blood. Raises FileWaits.

    A code of body fluid is a sensor's where its values are as dense as only a sensor's are; a specimen that is not
    stated is never guessed.
    """
    unstated = [one for one in records if any(fact.kind is Kind.GLUCOSE for fact in one.facts)]
    fluid = [one for one in records if "body_fluid_code" in one.flags and one.facts]
    if standard.open_glucose is not None:
        for one in (*unstated, *fluid):
            one.facts = tuple(replace(fact, kind=standard.open_glucose) for fact in one.facts)
        return
    if unstated:
        _wait(standard, file, f"{len(unstated)} of its glucose values do not say whether of a sensor or of blood")
    if fluid and not _dense(fluid, context):
        _wait(standard, file, f"{len(fluid)} of its glucose values are coded as of body fluid, and too few to tell")


def _dense(records: Sequence[Record], context: ReadContext) -> bool:
    at = sorted({fact.at.utc for one in records for fact in one.facts if fact.at is not None})
    if len(at) < DENSE_FROM_READINGS:
        return False
    steps = [(after - before).total_seconds() / 60 for before, after in pairwise(at)]
    return median(steps) <= context.settings.most_regular_step_minutes


def _wait(standard: Standard, file: str, what: str) -> None:
    names = (f"--layout {standard.name}-sensor", f"--layout {standard.name}-finger")
    raise FileWaits(
        "glucose_of_what",
        file,
        what,
        f"name {names[0]} where they are a sensor's, {names[1]} where they are of finger-sticks",
        readings=("they are a sensor's readings", "they are finger-sticks"),
        lines=names,
    )


def seen_in_member(member: FileMember, standard: Standard) -> list[tuple[str, str]]:
    """What stands in a text that is of a standard: (what, how often), for people."""
    assert member.text is not None
    found = read_standard(member.text, standard, member.name)
    counts: Counter[str] = Counter()
    for record in found.records:
        for fact in record.facts:
            counts[f"it brings {fact.kind.value.replace('_', ' ')}"] += 1
        for held in record.held:
            counts[f"a record would be set aside ({held.code})"] += 1
        if record.passed:
            counts[f"passed over: {record.passed}"] += 1
        if record.withdrawn:
            counts["a record is taken back"] += 1
    return [(what, f"{count} x") for what, count in sorted(counts.items())] + [
        ("a remark", one) for one in found.remarks
    ]
