"""A home with one child, and small logs."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.domain.batch import Batch
from gramrise.domain.frames import DOSES, READINGS
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs

NIGHT = datetime(2026, 3, 1, 1, 0, tzinfo=UTC)
NOW = datetime(2026, 3, 2, 5, 0, tzinfo=UTC)


def child(person_id="mia", zone="Europe/Berlin", kg=32.0):
    return Person(
        person_id,
        date(2016, 5, 1),
        Dated(((date(2016, 5, 1), ZoneInfo(zone)),)),
        weights_kg=Dated(((date(2026, 1, 10), kg),)),
        sources=Dated(((date(2026, 1, 1), (Source("tin", Form.TABLET, 4.0, stated_as=StatedAs.ANHYDROUS),)),)),
    )


def readings(values, start=NIGHT, person_id="mia", step=5):
    rows = [(person_id, start + timedelta(minutes=step * i), float(v), "in", 60) for i, v in enumerate(values)]
    return pl.DataFrame(rows, schema=READINGS.schema, orient="row")


def dose(at=NIGHT, amount=3.0, source="tin", ordinal=1, grams=12.0, person_id="mia", unit="piece", remarks=()):
    row = (person_id, at, source, ordinal, "tablet", amount, unit, grams, False, list(remarks), "file", "")
    return pl.DataFrame([row], schema=DOSES.schema, orient="row")


def batch(content_hash="h1", person_id="mia", file="march.csv", **frames):
    offered = sum(frame.height for frame in frames.values() if isinstance(frame, pl.DataFrame))
    return Batch(person_id, file, content_hash, "plain", offered, **frames)
