"""Cards that were made: kept whole, so that the night can tell a family when one no longer holds."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, insert, select, update

from gramrise.domain.problems import WrongUse
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
    gone_on: date | None = None  # local date on which it was thrown away; None: it is out


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
            None if row.gone_on is None else date.fromisoformat(row.gone_on),
        )
        for row in connection.execute(chosen)
    ]


def hang_again(connection: Connection, person_id: str, number: int) -> None:
    """Notes that a card is out after all. Raises WrongUse where none of that number was said to be thrown away."""
    gone = [card.number for card in load(connection, person_id) if card.gone_on is not None]
    if number not in gone:
        raise WrongUse(f"card {number} was not said to be thrown away", "gramrise card --list shows those that are out")
    mine = (schema.cards.c.person_id == person_id, schema.cards.c.number == number)
    connection.execute(update(schema.cards).where(*mine).values(gone_on=None))


def throw_away(connection: Connection, person_id: str, number: int, on: date) -> None:
    """Notes that a card was thrown away. Raises WrongUse naming the cards that are out when it is none of them."""
    out = [card.number for card in load(connection, person_id) if card.gone_on is None]
    if number not in out:
        raise WrongUse(
            f"card {number} is not out; out are: {', '.join(str(each) for each in out) or 'none'}",
            "gramrise card --list shows them",
        )
    mine = (schema.cards.c.person_id == person_id, schema.cards.c.number == number)
    connection.execute(update(schema.cards).where(*mine).values(gone_on=on.isoformat()))
