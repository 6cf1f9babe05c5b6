"""Care plans: every version that was ever typed in; the latest of a day holds from that day on."""

import json
from dataclasses import asdict
from datetime import date
from typing import Any, Final

from sqlalchemy import Connection, func, insert, select

from gramrise.domain.care_plan import CarePlan, SchoolPlan
from gramrise.domain.person import Dated, Person
from gramrise.store import schema

DATES: Final = frozenset({"approved_on", "valid_until", "year_from", "year_until", "authorised_on", "kit_expires_on"})
LISTS: Final = frozenset({"contacts", "staff"})


def load(connection: Connection, person_id: str | None = None) -> dict[str, Dated[CarePlan]]:
    """The plans that hold, by person: of each day the latest version, unless it was withdrawn."""
    table = schema.care_plans
    chosen = select(table).order_by(table.c.person_id, table.c.version)
    if person_id is not None:
        chosen = chosen.where(table.c.person_id == person_id)
    latest: dict[str, dict[date, CarePlan | None]] = {}
    for row in connection.execute(chosen):
        plan = None if row.plan is None else read(json.loads(row.plan))
        latest.setdefault(row.person_id, {})[date.fromisoformat(row.from_on)] = plan
    return {
        mine: Dated(tuple((day, plan) for day, plan in days.items() if plan is not None))
        for mine, days in latest.items()
    }


def write(connection: Connection, person: Person) -> None:
    """Adds a version for each day whose plan is another than the stored one; nothing is ever overwritten."""
    stored = load(connection, person.person_id).get(person.person_id)
    standing = dict(stored.entries) if stored is not None else {}
    wanted = dict(person.care_plan.entries)
    changed = [day for day in sorted({*standing, *wanted}) if standing.get(day) != wanted.get(day)]
    for day in changed:
        plan = None if day not in wanted else json.dumps(written(wanted[day]), ensure_ascii=False)
        add_version(connection, person.person_id, day.isoformat(), plan)


def add_version(connection: Connection, person_id: str, from_on: str, plan: str | None) -> None:
    """Adds a version for a day, as JSON text; None: taken back for that day."""
    table = schema.care_plans
    last = connection.execute(select(func.max(table.c.version)).where(table.c.person_id == person_id)).scalar_one()
    connection.execute(insert(table).values(person_id=person_id, version=(last or 0) + 1, from_on=from_on, plan=plan))


def as_text(connection: Connection, person_id: str) -> dict[str, str]:
    """The plans that hold, as JSON text by the day from which they do."""
    held = load(connection, person_id).get(person_id)
    entries = () if held is None else held.entries
    return {day.isoformat(): json.dumps(written(plan), ensure_ascii=False) for day, plan in entries}


def written(plan: CarePlan) -> dict[str, Any]:
    """A plan as JSON values."""
    return json.loads(json.dumps(asdict(plan), default=date.isoformat))  # type: ignore[no-any-return]


def read(row: dict[str, Any]) -> CarePlan:
    """A plan from JSON values; what an earlier version of the table did not hold is not stated."""
    return CarePlan(**{**_values(row), "school": SchoolPlan(**_values(row.get("school") or {}))})


def _values(row: dict[str, Any]) -> dict[str, Any]:
    return {name: _value(name, value) for name, value in row.items()}


def _value(name: str, value: Any) -> Any:
    if name in DATES:
        return None if value is None else date.fromisoformat(value)
    return tuple(value) if name in LISTS else value
