"""Records by their identity at the sender, with what each states: kept so that a later version finds it again."""

import math
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

import polars as pl

from gramrise.connectors.standards import Fact, Kind, Record
from gramrise.domain.frames import SOURCE_RECORDS
from gramrise.domain.person import Person

_TABLES = {Kind.READING: "readings", Kind.FINGER: "fingers", Kind.DOSE: "doses", Kind.WEIGHT: "weights",
           Kind.INSULIN: "insulin", Kind.FOOD: "food", Kind.ACTIVITY: "activity", Kind.NOTE: "note"}  # fmt: skip


def source_records(records: Iterable[Record], person: Person) -> pl.DataFrame:
    """SOURCE_RECORDS of those that have an identity and either state something or are withdrawn."""
    rows = [row for record in records if record.identity and (row := _row(record, person)) is not None]
    frame = pl.DataFrame(rows, schema=SOURCE_RECORDS.schema, orient="row")
    return SOURCE_RECORDS.check(frame.unique("record", keep="last", maintain_order=True))


def _row(record: Record, person: Person) -> tuple[object, ...] | None:
    name = f"{record.whose} {record.identity}" if record.whose else record.identity
    if record.withdrawn:
        return (person.person_id, name, "", None, None, 0, record.updated_utc, True)
    kept = [fact for fact in record.facts if fact.kind in _TABLES]
    if not kept:
        return None
    at = sorted({_at(fact, person) for fact in kept})
    steps = [int((after - at[0]) / timedelta(microseconds=1)) for after in at[1:]]
    return (person.person_id, name, _TABLES[kept[0].kind], at[0], at[-1], math.gcd(*steps), record.updated_utc, False)


def _at(fact: Fact, person: Person) -> datetime:
    """The instant of a fact; of a weighing its day."""
    if fact.kind is not Kind.WEIGHT:
        assert fact.at is not None  # only a weighing has a day alone
        return fact.at.utc
    day = fact.on if fact.at is None else fact.at.utc.astimezone(person.zone_now()).date()
    assert day is not None
    return datetime(day.year, day.month, day.day, tzinfo=UTC)
