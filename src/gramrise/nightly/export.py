"""One person taken out, in open forms: tables that anything reads, and one document that brings everything back."""

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from gramrise.config.private_files import private_folder, write_whole
from gramrise.domain.problems import WrongUse
from gramrise.store import TOOK_OUT, Store

if TYPE_CHECKING:
    import polars as pl

    from gramrise.domain.findings import Inputs

DOCUMENT: Final = "person.json"
GUIDE: Final = "README.txt"
_GUIDE: Final = """What gramrise knows of one person, in open forms. Times are UTC.

person.json       everything that was told, as rows of tables. `gramrise bring-in FOLDER` makes the person anew from it,
                  with the same findings; nothing else here is needed for that.
*.csv             the same readings and logs as plain tables, for any other program.

A number of gramrise is an average of past events, not an order. It is not certified as a medical device.
"""
_AMOUNT_WORDS: Final = {"piece": "pieces", "mL": "mL", "g": "g"}


@dataclass(frozen=True, slots=True)
class Exported:
    """The files that were written, in order of name."""

    files: tuple[Path, ...]


def export_person(store: Store, person_id: str, to: Path, now_utc: datetime) -> Exported:
    """Writes a person's tables and document into a new folder, readable by its owner only.

    raises  WrongUse for an unknown id, and where there is something of that name already
    """
    if to.exists():
        raise WrongUse(f"{to} is there already", "name a folder that is not; nothing is overwritten")
    document, inputs = store.document_of(person_id), store.inputs(person_id)
    store.trail.note(store.actor, TOOK_OUT, "export", now_utc, person_id)
    private_folder(to)
    tables = {name: frame for name, frame in _tables(store, inputs).items() if frame.height}
    for name, frame in tables.items():
        write_whole(to / f"{name}.csv", frame.write_csv(datetime_format="%Y-%m-%dT%H:%M:%S%.fZ").encode())
    write_whole(to / DOCUMENT, json.dumps(document, ensure_ascii=False).encode())
    write_whole(to / GUIDE, _GUIDE.encode())
    return Exported(tuple(sorted(to.iterdir())))


def bring_in_person(store: Store, folder: Path, now_utc: datetime, as_id: str | None = None) -> str:
    """Makes a person anew from an exported folder; their id. Raises WrongUse, then nothing was changed."""
    try:
        document: dict[str, Any] = json.loads((folder / DOCUMENT).read_bytes())
    except (OSError, ValueError) as problem:
        raise WrongUse(
            f"there is no readable {DOCUMENT} in {folder}", "name a folder written by `gramrise export`"
        ) from problem
    return store.bring_in(document, now_utc, as_id)


def _tables(store: Store, inputs: "Inputs") -> "dict[str, pl.DataFrame]":
    """Each table with the plain columns that gramrise itself reads."""
    import polars as pl

    events = inputs.events.sort("at_utc")
    weights = [(day, kg) for day, kg in inputs.person.weights_kg.entries]
    counts = store.supplies.counts(inputs.person.person_id)
    return {
        "readings": _levels(inputs.readings, "glucose (mg/dL)"),
        "finger-sticks": _levels(inputs.fingers, "finger (mg/dL)"),
        "glucose-given": inputs.doses.sort("taken_at_utc").select(
            pl.col("taken_at_utc").alias("time"),
            "source",
            pl.format("{} {}", "amount", pl.col("amount_unit").replace(_AMOUNT_WORDS)).alias("amount"),
        ),
        "insulin": events.filter(kind="insulin").select(
            pl.col("at_utc").alias("time"), pl.col("amount").alias("units")
        ),
        "food": events.filter(kind="food").select(
            pl.col("at_utc").alias("time"), pl.col("amount").alias("carbohydrate_g")
        ),
        "activity": events.filter(kind="activity").select(
            pl.col("at_utc").alias("time"), pl.col("until_utc").alias("until"), pl.col("text").alias("activity")
        ),
        "other-events": events.filter(~pl.col("kind").is_in(["insulin", "food", "activity"])).select(
            pl.col("at_utc").alias("time"), "kind", "text"
        ),
        "weights": pl.DataFrame(weights, schema={"time": pl.Date, "kg": pl.Float64}, orient="row"),
        "counts": pl.DataFrame(
            [(c.container, c.source, c.from_utc, c.to_utc, c.pieces_filled, c.pieces_left) for c in counts],
            schema=["container", "source", "from", "to", "filled", "left"],
            orient="row",
        ),
    }


def _levels(frame: "pl.DataFrame", header: str) -> "pl.DataFrame":
    """Readings with the words for what lies outside a sensor's range."""
    import polars as pl

    words = pl.col("range").replace_strict({"below": "low", "above": "high"}, default=None)
    number = pl.col("glucose_mg_dl").cast(pl.String).str.strip_suffix(".0")
    return frame.sort("at_utc").select(pl.col("at_utc").alias("time"), pl.coalesce(words, number).alias(header))
