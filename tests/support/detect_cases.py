"""Small made-up inputs for tests of this room: one person, readings at a step, doses and events at minutes."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl

from gramrise.detect import Detected, detect
from gramrise.domain.findings import Inputs
from gramrise.domain.frames import DOSES, EVENTS, FINGERS, READINGS
from gramrise.domain.person import Dated, Person

NIGHT = datetime(2026, 3, 2, 2, 0, tzinfo=UTC)
LATER = datetime(2026, 6, 1, tzinfo=UTC)
BELOW_RANGE_MG_DL = 40.0


def at(minute: float) -> datetime:
    """Minutes after 02:00."""
    return NIGHT + timedelta(minutes=minute)


def child(**known: object) -> Person:
    """A child of 10 in UTC who weighs 32 kg."""
    facts: dict[str, object] = {
        "person_id": "P1",
        "born": date(2016, 1, 1),
        "zone": Dated(((date.min, ZoneInfo("UTC")),)),
        "weights_kg": Dated(((date(2026, 1, 1), 32.0),)),
    }
    return Person(**(facts | known))  # type: ignore[arg-type]


def readings(values: Sequence[float | None], step: float = 5, start: float = 0) -> pl.DataFrame:
    """A reading every `step` minutes from `start`; None is a missed one, and a value under 40 shows 'below range'."""
    rows = [
        {
            "person_id": "P1",
            "at_utc": at(start + nth * step),
            "glucose_mg_dl": max(value, BELOW_RANGE_MG_DL),
            "range": "below" if value < BELOW_RANGE_MG_DL else "in",
            "offset_minutes": None,
        }
        for nth, value in enumerate(values)
        if value is not None
    ]
    return pl.DataFrame(rows, schema=READINGS.schema)


def doses(*given: tuple[float, float | None], remarks: Sequence[str] = ()) -> pl.DataFrame:
    """(minute, grams) each."""
    rows = [
        {
            "person_id": "P1",
            "taken_at_utc": at(minute),
            "source": "tablets",
            "ordinal": nth + 1,
            "form": "tablet",
            "amount": grams,
            "amount_unit": "g",
            "grams": grams,
            "may_be_weaker": False,
            "remarks": list(remarks),
            "origin": "file",
            "noticed": "",
        }
        for nth, (minute, grams) in enumerate(given)
    ]
    return pl.DataFrame(rows, schema=DOSES.schema)


def events(*happened: tuple[float, str, float | None]) -> pl.DataFrame:
    """(minute, kind, amount) each."""
    rows = [
        {"person_id": "P1", "at_utc": at(minute), "until_utc": None, "kind": kind, "amount": amount, "text": ""}
        for minute, kind, amount in happened
    ]
    return pl.DataFrame(rows, schema=EVENTS.schema)


def fingers(*sticks: tuple[float, float]) -> pl.DataFrame:
    """(minute, mg/dL) each."""
    rows = [
        {"person_id": "P1", "at_utc": at(minute), "glucose_mg_dl": value, "range": "in"} for minute, value in sticks
    ]
    return pl.DataFrame(rows, schema=FINGERS.schema)


def found(trace: pl.DataFrame, now: datetime = LATER, person: Person | None = None, **frames: pl.DataFrame) -> Detected:
    """What is detected in a trace with the given other frames."""
    return detect(Inputs(person or child(), readings=trace, **frames), now)


# A low as it is treated: an hour falling from 120 to 64, ten minutes low, back to 115 within the hour, two hours level.
TREATED_LOW = [*(120 - 56 / 12 * n for n in range(13)), 63, 66, 72, 80, 89, 97, 104, 109, 112, 114, 115, *[115.0] * 24]
LOW_AT = 60.0  # minute of its 64
