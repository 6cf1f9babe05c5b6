"""Whether a file is another person's: its readings equal theirs, instant by instant."""

from typing import Final

import polars as pl
from sqlalchemy import Connection, and_, select

from gramrise.domain.batch import Question
from gramrise.store.answers import WHOSE_FILE
from gramrise.store.schema import persons, readings

# DESIGN section 4: so many equal readings are asked about.
EQUAL_READINGS: Final = 20
# Our choice: two sensors that read at the same minutes share a value in a hundred by chance, never half of them.
EQUAL_SHARE: Final = 0.5
# Our choice: instants looked at, spread evenly over the file; enough to find a share of a half for certain.
INSTANTS_LOOKED_AT: Final = 400


def questions_for(connection: Connection, frame: pl.DataFrame, person_id: str, file: str) -> list[Question]:
    """One question for each other person whose readings the file's equal.

    frame   stored-form readings of one file, in order of time
    """
    if frame.height < EQUAL_READINGS:
        return []
    looked = frame.gather_every(max(1, frame.height // INSTANTS_LOOKED_AT)).head(2 * INSTANTS_LOOKED_AT)
    values = dict(looked.select("at_utc", "glucose_mg_dl").rows())
    found = []
    for (other,) in connection.execute(select(persons.c.person_id).where(persons.c.person_id != person_id)).all():
        shared = _shared(connection, other, list(values))
        equal = sum(values[at] == value for at, value in shared)
        if equal >= EQUAL_READINGS and equal >= EQUAL_SHARE * len(shared):
            found.append(_question(person_id, file, other, equal))
    return found


def _shared(connection: Connection, other: str, instants: list[int]) -> list[tuple[int, float]]:
    """Another person's readings at these instants; one look first, as most have none in this time."""
    span = and_(readings.c.person_id == other, readings.c.at_utc.between(instants[0], instants[-1]))
    if connection.execute(select(readings.c.at_utc).where(span).limit(1)).first() is None:
        return []
    chosen = select(readings.c.at_utc, readings.c.glucose_mg_dl).where(
        readings.c.person_id == other, readings.c.at_utc.in_(instants)
    )
    return [(row.at_utc, row.glucose_mg_dl) for row in connection.execute(chosen)]


def _question(person_id: str, file: str, other: str, equal: int) -> Question:
    return Question(
        person_id,
        WHOSE_FILE,
        f"{file} {other}",
        f"{file}: {equal} of its readings equal those of {other}. Whose file is it?",
        (person_id, other),
        {"file": file, "other": other, "equal": equal},
    )
