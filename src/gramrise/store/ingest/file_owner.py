"""Whether a file is another person's: its readings equal theirs, instant by instant."""

from typing import Final

import polars as pl
from sqlalchemy import Connection, func, select, text

from gramrise.domain.batch import Question
from gramrise.store import input_tables
from gramrise.store.questions.kinds import WHOSE_FILE
from gramrise.store.schema import readings

# So many equal readings are asked about. Our choice: under two hours of a sensor's; fewer may be chance, or a few lines
# noted for two children.
EQUAL_READINGS: Final = 20
# Our choice: two sensors that read at the same minutes share a value in a hundred by chance, never half of them.
EQUAL_SHARE: Final = 0.5
# Readings of others equal to those told, by the index of readings. The numbers stand in the text: bound one by one they
# would cost ten times the look itself.
EQUAL_TO: Final = """
WITH told (at_utc, glucose_mg_dl) AS (VALUES {told})
SELECT readings.person_id, COUNT(*) FROM told JOIN readings
ON readings.at_utc = told.at_utc AND readings.glucose_mg_dl = told.glucose_mg_dl
WHERE readings.person_id <> :person_id
GROUP BY readings.person_id HAVING COUNT(*) >= :enough ORDER BY readings.person_id
"""
# Our choice: instants looked at, spread evenly over the file; enough to find a share of a half for certain.
INSTANTS_LOOKED_AT: Final = 400


def questions_for(connection: Connection, frame: pl.DataFrame, person_id: str, file: str) -> list[Question]:
    """One question for each other person whose readings the file's equal.

    frame   stored-form readings of one file, in order of time
    """
    if frame.height < EQUAL_READINGS:
        return []
    looked = frame.gather_every(max(1, frame.height // INSTANTS_LOOKED_AT)).head(2 * INSTANTS_LOOKED_AT)
    values = dict(zip(looked["at_utc"].to_list(), looked["glucose_mg_dl"].to_list(), strict=True))
    found = []
    for other, equal in _with_equal(connection, person_id, values):
        of_theirs = readings.c.person_id == other, readings.c.at_utc.in_(list(values))
        shared = connection.execute(select(func.count()).select_from(readings).where(*of_theirs)).scalar_one()
        if equal >= EQUAL_SHARE * shared:
            found.append(_question(person_id, file, other, _all_equal(connection, frame, other)))
    return found


def _all_equal(connection: Connection, frame: pl.DataFrame, other: str) -> int:
    """How many of all the file's readings the other's equal: looked at once there is something to ask."""
    span = frame.select(first=pl.col("at_utc").min(), last=pl.col("at_utc").max()).row(0)
    theirs = select(readings.c.at_utc, readings.c.glucose_mg_dl).where(
        readings.c.person_id == other, readings.c.at_utc.between(*span)
    )
    known = input_tables.fetch(
        connection, theirs, {name: input_tables.READINGS.schema[name] for name in ("at_utc", "glucose_mg_dl")}
    )
    return frame.join(known, on=["at_utc", "glucose_mg_dl"], how="semi").height


def _with_equal(connection: Connection, person_id: str, values: dict[int, float]) -> list[tuple[str, int]]:
    """Others with readings enough that equal these, and how many: one look at an index, however many there are."""
    told = ", ".join(f"({int(at)}, {float(value)!r})" for at, value in values.items())
    asked = {"person_id": person_id, "enough": EQUAL_READINGS}
    return [(other, count) for other, count in connection.execute(text(EQUAL_TO.format(told=told)), asked)]


def _question(person_id: str, file: str, other: str, equal: int) -> Question:
    return Question(
        person_id,
        WHOSE_FILE,
        f"{file} {other}",
        f"{file}: {equal} of its readings equal those of {other}. Whose file is it?",
        (person_id, other),
        {"file": file, "other": other, "equal": equal},
    )
