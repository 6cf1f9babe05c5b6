"""The rows taken from a table, as the batch that the store ingests."""

import hashlib
from dataclasses import replace
from typing import Any

import polars as pl

from gramrise.connectors.layout import Layout
from gramrise.domain.batch import Batch
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, READINGS, SOURCE_RECORDS, WEIGHTS
from gramrise.intake.context import ReadContext
from gramrise.intake.rows.taken_rows import TakenRows


def batch_of(taken: TakenRows, file: str, layout: Layout, context: ReadContext, digest: str) -> Batch:
    """The batch of one table."""
    return Batch(
        person_id=context.person.person_id,
        file=file,
        content_hash=digest,
        layout=layout.name,
        rows_offered=taken.rows_offered,
        readings=taken.readings,
        fingers=taken.fingers,
        doses=taken.doses,
        events=taken.events,
        weights=taken.weights,
        quarantine=taken.quarantine,
        questions=tuple(taken.questions),
        rows_repeated=taken.rows_repeated,
        rows_passed_over=taken.rows_passed_over,
    )


def joined(batches: list[Batch]) -> Batch:
    """The blocks of one large table as one batch."""
    frames: dict[str, Any] = {
        name: contract.check(pl.concat([getattr(batch, name) for batch in batches]))
        for name, contract in (
            ("readings", READINGS), ("fingers", FINGERS), ("doses", DOSES), ("events", EVENTS), ("weights", WEIGHTS),
            ("source_records", SOURCE_RECORDS),
        )
    }  # fmt: skip
    return replace(
        batches[0],
        **frames,
        content_hash=hashlib.sha256("".join(batch.content_hash for batch in batches).encode()).hexdigest(),
        rows_offered=sum(batch.rows_offered for batch in batches),
        quarantine=tuple(row for batch in batches for row in batch.quarantine),
        questions=tuple(question for batch in batches for question in batch.questions),
        rows_repeated=sum(batch.rows_repeated for batch in batches),
        rows_passed_over=sum(batch.rows_passed_over for batch in batches),
    )
