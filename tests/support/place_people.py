"""A child with a school tin: a flat trace with turns of given sharpness."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, READINGS
from gramrise.domain.person import Dated, Person
from gramrise.domain.sources import Form, Source, StatedAs

MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
BORN = date(2016, 4, 2)


def child() -> Person:
    """32 kg, candies of 1 g."""
    candy = Source("candy", Form.TABLET, 1.0, stated_as=StatedAs.ANHYDROUS)
    return Person(
        "mia",
        BORN,
        Dated(((BORN, ZoneInfo("UTC")),)),
        weights_kg=Dated(((BORN, 32.0),)),
        sources=Dated(((BORN, (candy,)),)),
    )


def day_with_turns(*turns: tuple[float, float, float], hours: float = 12) -> pl.DataFrame:
    """READINGS every 5 minutes from 07:00: level 120, with turns of (minute, lowest, level 45 minutes after)."""
    minutes = np.arange(0, 60 * hours, 5.0)
    level = np.full(minutes.size, 120.0)
    for at, lowest, after in turns:
        down = (minutes >= at - 60) & (minutes <= at)
        level[down] = lowest + (120 - lowest) * (at - minutes[down]) / 60
        up = (minutes > at) & (minutes <= at + 45)
        level[up] = lowest + (after - lowest) * (minutes[up] - at) / 45
        back = (minutes > at + 45) & (minutes <= at + 105)
        level[back] = after + (120 - after) * (minutes[back] - at - 45) / 60
    return pl.DataFrame(
        {
            "person_id": ["mia"] * minutes.size,
            "at_utc": [MORNING + timedelta(minutes=float(m)) for m in minutes],
            "glucose_mg_dl": level,
            "range": ["in"] * minutes.size,
            "offset_minutes": [0] * minutes.size,
        },
        schema=READINGS.schema,
    )


def inputs(readings: pl.DataFrame, doses: list[tuple[float, float]] = (), food: list[float] = ()) -> Inputs:
    """The child's day: pieces given at a minute, food at a minute."""
    given = [
        {
            "person_id": "mia", "taken_at_utc": MORNING + timedelta(minutes=at), "source": "candy", "ordinal": 1,
            "form": "tablet", "amount": pieces, "amount_unit": "piece", "grams": pieces, "may_be_weaker": False,
            "remarks": [], "origin": "file",
        }
        for at, pieces in doses
    ]  # fmt: skip
    eaten = [
        {"person_id": "mia", "at_utc": MORNING + timedelta(minutes=at), "until_utc": None, "kind": "food",
         "amount": 20.0, "text": ""}
        for at in food
    ]  # fmt: skip
    return Inputs(
        child(),
        readings=readings,
        doses=DOSES.check(pl.DataFrame(given, schema=DOSES.schema)),
        events=EVENTS.check(pl.DataFrame(eaten, schema=EVENTS.schema)),
    )
