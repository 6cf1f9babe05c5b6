"""Another log's amount in a minute of which one is known: two logs that contradict, and neither corrects the other.

A log that is exported again corrects itself: it has the layout and, but for numbers, the file name it had.
"""

import re
from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl
from sqlalchemy import Connection, select

from gramrise.domain.batch import Batch, Question
from gramrise.domain.questions import dose_key
from gramrise.store import input_tables, schema
from gramrise.store.ingest.apart_in_doubt import with_ordinals
from gramrise.store.instants import instant
from gramrise.store.questions.kinds import APART, FIRST, SECOND, WHICH_AMOUNT

_Row = dict[str, Any]
_Log = tuple[str, str]
_LETTERS = re.compile(r"[^\W\d_]+")


def beside_known(
    connection: Connection, batch: Batch, zone: ZoneInfo, own_import: int | None
) -> tuple[Batch, list[Question]]:
    """The batch, whose doses have ordinals of their own beside another log's; a question for each new one.

    own_import  where the file is looked at again: what it stated before is its own, by whatever layout it was read
    """
    if batch.doses.height == 0:
        return batch, []
    frame = input_tables.as_stored(input_tables.DOSES, batch.doses, None)
    beside = _standing(connection, batch, frame["minute"].unique().to_list())
    own = log_of(batch.layout, batch.file)
    logs = _logs(connection, {each["import_id"] for rows in beside.values() for each in rows})
    logs |= {} if own_import is None else {own_import: own}
    taken: set[tuple[int, str, int]] = set(frame.select("minute", "source", "ordinal").iter_rows())
    moved: dict[tuple[Any, ...], int] = {}
    questions: list[Question] = []
    for row in frame.iter_rows(named=True):
        place = row["minute"], row["source"]
        others = beside.get(place, [])
        other = next((each for each in others if each["ordinal"] == row["ordinal"]), None)
        if other is None or logs.get(other["import_id"]) == own or not _contradict(row, other):
            continue
        ordinal = _known_as(row, others, logs, own, taken)
        if ordinal is None:
            ordinal = 1 + max(each for *named, each in _places(taken, others) if tuple(named) == place)
            if not (_of_nothing(row) or _of_nothing(other)):  # else it is asked whether they are one: `doubled_doses`
                questions.append(_question(row, ordinal, other, zone))
        taken.add((*place, ordinal))
        moved[instant(row["taken_at_utc"]).isoformat(), row["source"], row["ordinal"]] = ordinal
    return with_ordinals(batch, moved), questions


def log_of(layout: str, file: str) -> _Log:
    """What names a log: its layout, and the words of its file's name, without its folders, days and numbers."""
    name = re.split(r"[/\\]", file)[-1].casefold()
    return layout, " ".join(_LETTERS.findall(name))


def _logs(connection: Connection, import_ids: set[int | None]) -> dict[int | None, _Log]:
    table = schema.imports
    chosen = select(table.c.import_id, table.c.layout, table.c.file).where(table.c.import_id.in_(import_ids - {None}))
    return {row.import_id: log_of(row.layout, row.file) for row in connection.execute(chosen)}


def _standing(connection: Connection, batch: Batch, minutes: list[int]) -> dict[tuple[int, str], list[_Row]]:
    """The person's stored doses of these minutes, by minute and source."""
    table = schema.doses
    span = table.c.minute.between(min(minutes), max(minutes))
    chosen = select(table).where(table.c.person_id == batch.person_id, span)
    standing = input_tables.fetch(connection, chosen.order_by(*table.primary_key), input_tables.DOSES.schema)
    found: dict[tuple[int, str], list[_Row]] = {}
    for each in standing.filter(pl.col("minute").is_in(minutes)).to_dicts():
        found.setdefault((each["minute"], each["source"]), []).append(each)
    return found


def _contradict(row: _Row, other: _Row) -> bool:
    """Whether two rows state amounts, and other ones."""
    if row["amount"] is None or other["amount"] is None:
        return False
    if row["grams"] is not None and row["grams"] == other["grams"]:
        return False
    return bool((row["amount"], row["amount_unit"]) != (other["amount"], other["amount_unit"]))


def _of_nothing(row: _Row) -> bool:
    """Whether nobody has said of what the amount is."""
    return row["grams"] is None and row["source"] == ""


def _known_as(
    row: _Row, beside: list[_Row], logs: dict[int | None, _Log], own: _Log, taken: set[tuple[int, str, int]]
) -> int | None:
    """The ordinal under which the amount is known already, or another that this log stated before; None for neither."""
    free = [each for each in beside if (each["minute"], each["source"], each["ordinal"]) not in taken]
    equal = [each for each in free if not _contradict(row, each) and each["amount"] is not None]
    mine = [each for each in free if logs.get(each["import_id"]) == own]
    return next((int(each["ordinal"]) for each in (*equal, *mine)), None)


def _places(taken: Iterable[tuple[int, str, int]], beside: list[_Row]) -> Iterable[tuple[int, str, int]]:
    return (*taken, *((each["minute"], each["source"], each["ordinal"]) for each in beside))


def _question(row: _Row, ordinal: int, other: _Row, zone: ZoneInfo) -> Question:
    at, other_at = instant(row["taken_at_utc"]), instant(other["taken_at_utc"])
    told, other_told = ({"amount": each["amount"], "unit": each["amount_unit"]} for each in (row, other))
    clock = at.astimezone(zone)
    first, second = _amount(other_told, row["source"]), _amount(told, row["source"])
    return Question(
        person_id=str(row["person_id"]),
        kind=WHICH_AMOUNT,
        key=f"{dose_key(at.isoformat(), row['source'], ordinal)} / {other_at.isoformat()} {row['source']}",
        sentence=(
            f"Two logs name different amounts, {first} and {second}, on {clock:%a %d %b %Y} at {clock:%H:%M}. "
            "Which of them was given?"
        ),
        answers=(FIRST, SECOND, APART),
        about={
            "taken_at_utc": at.isoformat(),
            "source": row["source"],
            "ordinal": ordinal,
            "other_at_utc": other_at.isoformat(),
            "other_ordinal": other["ordinal"],
            "first": other_told,
            "second": told,
            "words": {FIRST: f"only {first}", SECOND: f"only {second}"},
        },
    )


def _amount(told: _Row, source: str) -> str:
    """'3 pieces of candy', '12 g', as the question says it in English."""
    unit = "pieces" if told["unit"] == "piece" else told["unit"]
    of = f" of {source}" if source else ""
    return f"{told['amount']:g} {unit}{of}".replace("  ", " ")
