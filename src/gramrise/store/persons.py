"""A person as rows: plain facts in `persons`, dated facts in `person_facts`, weights with the other inputs."""

import json
from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import date, time
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, delete, insert, select, update

from gramrise.domain.bands import TimeBand
from gramrise.domain.person import Dated, Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Form, Source, StatedAs
from gramrise.domain.units import GlucoseUnit
from gramrise.domain.words import Delivery
from gramrise.store import care_plans
from gramrise.store.questions import stored_questions, weight_answers
from gramrise.store.schema import corrections, person_facts, persons, weights

Write = Callable[[Any], Any]


def _bands_out(bands: tuple[TimeBand, ...]) -> list[list[str]]:
    return [[band.name, band.start.isoformat(), band.end.isoformat()] for band in bands]


def _bands_in(rows: list[list[str]]) -> tuple[TimeBand, ...]:
    return tuple(TimeBand(name, time.fromisoformat(start), time.fromisoformat(end)) for name, start, end in rows)


def _source_in(row: dict[str, Any]) -> Source:
    forms = {"form": Form(row["form"]), "stated_as": StatedAs(row["stated_as"])}
    return Source(**{**row, **forms, "other_names": tuple(row["other_names"])})


# Each dated fact of a person: how its value is written as JSON and read back.
DATED: Final[dict[str, tuple[Write, Write]]] = {
    "zone": (lambda zone: zone.key, ZoneInfo),
    "bands": (_bands_out, _bands_in),
    "delivery": (str, Delivery),
    "target_mg_dl": (float, float),
    "sources": (lambda sources: [asdict(s) for s in sources], lambda rows: tuple(_source_in(r) for r in rows)),
    "log_complete_from": (bool, bool),
}
CARE_PLAN: Final = "care_plan"
SOURCES: Final = "sources"
PLAIN: Final = ("name", "sex", "language", "starting_table")


def load_people(connection: Connection, person_id: str | None = None) -> list[Person]:
    """Every stored person, or the one named, in order of id."""
    chosen = select(persons).order_by(persons.c.person_id)
    facts = select(person_facts)
    if person_id is not None:
        chosen = chosen.where(persons.c.person_id == person_id)
        facts = facts.where(person_facts.c.person_id == person_id)
    dated: dict[tuple[str, str], list[tuple[date, Any]]] = {}
    for row in connection.execute(facts):
        value = DATED[row.fact][1](json.loads(row.value))
        dated.setdefault((row.person_id, row.fact), []).append((date.fromisoformat(row.from_on), value))
    loaded = [_person(row, dated) for row in connection.execute(chosen)]
    plans = care_plans.load(connection, person_id)
    loaded = [replace(person, care_plan=plans.get(person.person_id, Dated())) for person in loaded]
    weighed = _weights_that_count(connection, person_id)
    return [replace(person, weights_kg=weighed.get(person.person_id, Dated())) for person in loaded]


def _weights_that_count(connection: Connection, person_id: str | None) -> dict[str, Dated[float]]:
    """The weights of everybody, or of the person named, as the family has since explained them."""
    chosen = select(weights)
    if person_id is not None:
        chosen = chosen.where(weights.c.person_id == person_id)
    stored = connection.execute(chosen).all()
    doubted = [
        each
        for each in stored_questions.load(connection, person_id, only_open=False, kinds=weight_answers.KINDS)
        if weight_answers.is_of_a_weight(each)
    ]
    before = _weights_before(connection, person_id) if doubted else {}
    weighed: dict[str, dict[date, weight_answers.Weighing]] = {}
    for row in stored:
        replaced = tuple(reversed(before.get((row.person_id, row.on), ())))
        made = weight_answers.Weighing(row.kg, before=replaced)
        weighed.setdefault(row.person_id, {})[date.fromisoformat(row.on)] = made
    by_person: dict[str, list[stored_questions.StoredQuestion]] = {}
    for each in doubted:
        by_person.setdefault(each.question.person_id, []).append(each)
    return {mine: weight_answers.lay_over_weights(days, by_person.get(mine, ())) for mine, days in weighed.items()}


def _weights_before(connection: Connection, person_id: str | None) -> dict[tuple[str, str], list[float]]:
    """What stood on a day before imports replaced it, kg, oldest first, by person and day."""
    chosen = select(corrections).where(corrections.c.table == "weights").order_by(corrections.c.correction_id)
    if person_id is not None:
        chosen = chosen.where(corrections.c.person_id == person_id)
    found: dict[tuple[str, str], list[float]] = {}
    for row in connection.execute(chosen):
        on, before = json.loads(row.identity)["on"], json.loads(row.before)["kg"]
        found.setdefault((row.person_id, on), []).append(before)
    return found


def _person(row: Any, dated: dict[tuple[str, str], list[tuple[date, Any]]]) -> Person:
    facts: dict[str, Any] = {fact: Dated(tuple(dated.get((row.person_id, fact), ()))) for fact in DATED}
    plain = {name: getattr(row, name) for name in PLAIN}
    born, unit = date.fromisoformat(row.born), GlucoseUnit(row.unit)
    return Person(person_id=row.person_id, born=born, unit=unit, **plain, **facts)


def facts_as_text(connection: Connection, person_id: str) -> dict[tuple[str, str], str]:
    """Every fact of a stored person as JSON text, by its name and the day from which it holds; '' for no day."""
    row = connection.execute(select(persons).where(persons.c.person_id == person_id)).first()
    if row is None:
        return {}
    facts = {(name, ""): json.dumps(getattr(row, name), ensure_ascii=False) for name in (*PLAIN, "unit", "born")}
    chosen = select(person_facts).where(person_facts.c.person_id == person_id)
    facts |= {(each.fact, each.from_on): each.value for each in connection.execute(chosen)}
    return facts | {(CARE_PLAN, day): plan for day, plan in care_plans.as_text(connection, person_id).items()}


def changed_facts(connection: Connection, person_id: str, before: dict[tuple[str, str], str]) -> list[list[str | None]]:
    """The facts that are others than `before` (of `facts_as_text`): fact, day, before, after, what held on that day."""
    after = facts_as_text(connection, person_id)
    changed = sorted(key for key in {*before, *after} if before.get(key) != after.get(key))
    return [[*key, before.get(key), after.get(key), _held(before, *key)] for key in changed]


def _held(facts: dict[tuple[str, str], str], fact: str, on: str) -> str | None:
    """The text of a fact that holds on a day: of that day, or of the latest before it."""
    since = [day for name, day in facts if name == fact and day <= on]
    return facts[fact, max(since)] if since else None


def reopen_answers(connection: Connection, person_id: str) -> None:
    """Asks again what was answered with a source that is stated no more: its strength was taken back."""
    told = connection.execute(
        select(person_facts.c.value).where(person_facts.c.person_id == person_id, person_facts.c.fact == SOURCES)
    )
    stated = {source["name"] for row in told for source in json.loads(row.value)}
    stored_questions.reopen_of_lost_sources(connection, person_id, stated)


def put_fact(connection: Connection, person_id: str, fact: str, from_on: str, value: str | None) -> None:
    """Makes one fact equal to a text of `facts_as_text`; None: it is not stated for that day."""
    if not from_on:
        plain = {fact: json.loads(value or '""')}
        connection.execute(update(persons).where(persons.c.person_id == person_id).values(**plain))
        return
    if fact == CARE_PLAN:
        care_plans.add_version(connection, person_id, from_on, value)
        return
    named = {"person_id": person_id, "fact": fact, "from_on": from_on}
    mine = [person_facts.c[name] == told for name, told in named.items()]
    connection.execute(delete(person_facts).where(*mine))
    if value is not None:
        connection.execute(insert(person_facts).values(**named, value=value))


PRINTED: Final = ("name", "language", "unit")  # facts that no finding depends on


def only_printed(person: Person) -> dict[str, Any]:
    """The facts that are printed and that no finding depends on."""
    return {name: getattr(person, name) for name in PRINTED}


def write_person(connection: Connection, person: Person) -> None:
    """Makes the stored person equal to `person`; weights that stay keep the import that brought them."""
    known = connection.execute(select(persons.c.person_id).where(persons.c.person_id == person.person_id)).first()
    plain = {name: getattr(person, name) for name in PLAIN}
    plain |= {"born": person.born.isoformat(), "unit": str(person.unit)}
    if known is None:
        start = {"person_id": person.person_id, "inputs_version": 0, "changed_from": None}
        connection.execute(insert(persons).values(**start, **plain))
    else:
        connection.execute(update(persons).where(persons.c.person_id == person.person_id).values(**plain))
    _write_facts(connection, person)
    care_plans.write(connection, person)
    _write_weights(connection, person)
    if known is not None:
        reopen_answers(connection, person.person_id)


def _write_facts(connection: Connection, person: Person) -> None:
    connection.execute(delete(person_facts).where(person_facts.c.person_id == person.person_id))
    rows = [
        {
            "person_id": person.person_id,
            "fact": fact,
            "from_on": day.isoformat(),
            "value": json.dumps(write(value), ensure_ascii=False),
        }
        for fact, (write, _) in DATED.items()
        for day, value in getattr(person, fact).entries
    ]
    if rows:
        connection.execute(insert(person_facts), rows)


def _write_weights(connection: Connection, person: Person) -> None:
    """Writes what differs from the weights that count; a weighing that waits for its answer stays where it is."""
    mine = weights.c.person_id == person.person_id
    counted = _weights_that_count(connection, person.person_id).get(person.person_id, Dated())
    standing = {day.isoformat(): kg for day, kg in counted.entries}
    wanted = {day.isoformat(): kg for day, kg in person.weights_kg.entries}
    fresh = [on for on, kg in wanted.items() if standing.get(on) != kg]
    for on in [*fresh, *(on for on in standing if on not in wanted)]:
        connection.execute(delete(weights).where(mine, weights.c.on == on))
    if fresh:
        told = [{"person_id": person.person_id, "on": on, "kg": wanted[on], "import_id": None} for on in fresh]
        connection.execute(insert(weights), told)


def known_person(connection: Connection, person_id: str) -> Person:
    """One person. Raises WrongUse for an id nobody has."""
    loaded = load_people(connection, person_id)
    if not loaded:
        raise _unknown(person_id)
    return loaded[0]


def refuse_unknown(connection: Connection, person_id: str) -> None:
    """Raises WrongUse for an id nobody has."""
    if connection.execute(select(persons.c.person_id).where(persons.c.person_id == person_id)).first() is None:
        raise _unknown(person_id)


def _unknown(person_id: str) -> WrongUse:
    return WrongUse(
        f"nobody here has the id '{person_id}'",
        "see `gramrise person list`, or add them with `gramrise person add`",
        "person_unknown",
    )


def mark_changed(connection: Connection, person_id: str, since: int) -> None:
    """Notes that inputs from a stored instant on are no longer those the findings rest on."""
    row = connection.execute(select(persons.c.changed_from).where(persons.c.person_id == person_id)).one()
    earliest = since if row.changed_from is None else min(since, row.changed_from)
    values: dict[str, Any] = {"inputs_version": persons.c.inputs_version + 1, "changed_from": earliest}
    connection.execute(update(persons).where(persons.c.person_id == person_id).values(**values))
