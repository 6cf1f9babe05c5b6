"""Cards that were made: kept whole, so that the night can tell a family when one no longer holds."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, insert, select

from gramrise.store import schema
from gramrise.store.instants import instant, stored


@dataclass(frozen=True, slots=True)
class Card:
    """One card as it was made. `view` is the JSON of its view; `number` counts from 1 for each person."""

    person_id: str
    number: int
    source: str
    for_school: bool
    made_at_utc: datetime
    valid_until: date
    view: str


def keep(connection: Connection, card: Card) -> None:
    """Adds a card. Raises IntegrityError when its number is taken: two commands made one at the same moment."""
    connection.execute(
        insert(schema.cards).values(
            person_id=card.person_id,
            number=card.number,
            source=card.source,
            for_school=card.for_school,
            made_at=stored(card.made_at_utc),
            valid_until=card.valid_until.isoformat(),
            view=card.view,
        )
    )


def load(connection: Connection, person_id: str) -> list[Card]:
    """A person's cards in order of their numbers."""
    chosen = select(schema.cards).where(schema.cards.c.person_id == person_id).order_by(schema.cards.c.number)
    return [
        Card(
            row.person_id,
            row.number,
            row.source,
            row.for_school,
            instant(row.made_at),
            date.fromisoformat(row.valid_until),
            row.view,
        )
        for row in connection.execute(chosen)
    ]
