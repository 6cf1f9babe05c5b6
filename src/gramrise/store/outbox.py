"""Mail on its way: every message is kept with its id before it is first sent, until a server has taken it.

waiting -> sending -> sent. A message found `sending` when a run begins was cut off: whether the server took it cannot
be known, so it is sent again with the same message id. That is the only way a second copy can arise.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import Row, select, update

from gramrise.store.instants import instant, instant_or_none, stored
from gramrise.store.schema import outbox
from gramrise.store.session import Session
from gramrise.store.upsert import insert_into

WAITING: Final = "waiting"
SENDING: Final = "sending"
SENT: Final = "sent"
WITHDRAWN: Final = "withdrawn"  # its recipient is no longer among those who get this mail


@dataclass(frozen=True, slots=True)
class Letter:
    """One message to one recipient; `message` holds its bytes as they go over the wire."""

    message_id: str
    person_id: str
    kind: str
    for_on: date
    recipient: str
    role: str
    message: bytes
    state: str = WAITING
    attempts: int = 0
    written_at_utc: datetime | None = None
    next_try_at_utc: datetime | None = None
    sent_at_utc: datetime | None = None
    trouble: str = ""


class Outbox:
    """The letters of a store; every method is one transaction."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def put(self, letters: list[Letter], now_utc: datetime) -> int:
        """Keeps new letters and says how many are new; one kept already (person, kind, week, recipient) stays."""
        new = 0
        with self._session.writing() as connection:
            for letter in letters:
                entered = insert_into(connection, outbox).values(
                    message_id=letter.message_id,
                    person_id=letter.person_id,
                    kind=letter.kind,
                    for_on=letter.for_on.isoformat(),
                    recipient=letter.recipient,
                    role=letter.role,
                    state=WAITING,
                    message=letter.message,
                    written_at=stored(now_utc),
                    attempts=0,
                    next_try_at=stored(now_utc),
                    trouble="",
                )
                new += connection.execute(entered.on_conflict_do_nothing()).rowcount
        return new

    def has(self, person_id: str, kind: str, for_on: date, recipient: str) -> bool:
        with self._session.reading() as connection:
            mine = (outbox.c.person_id == person_id, outbox.c.kind == kind, outbox.c.recipient == recipient)
            found = select(outbox.c.message_id).where(*mine, outbox.c.for_on == for_on.isoformat())
            return connection.execute(found).first() is not None

    def due(self, now_utc: datetime) -> list[Letter]:
        """Letters to be sent now, oldest first: waiting ones whose time has come, and those a crash cut off.

        A next try that lies further ahead than any pause between tries means the clock was set back: it is due.
        """
        with self._session.reading() as connection:
            chosen = select(outbox).where(outbox.c.state.in_([WAITING, SENDING])).order_by(outbox.c.written_at)
            return [
                _letter(row)
                for row in connection.execute(chosen.order_by(outbox.c.message_id))
                if row.state == SENDING or row.next_try_at <= stored(now_utc) or row.written_at > stored(now_utc)
            ]

    def all(self, state: str | None = None) -> list[Letter]:
        """Every letter, or those in one state, oldest first."""
        chosen = select(outbox).order_by(outbox.c.written_at, outbox.c.message_id)
        if state is not None:
            chosen = chosen.where(outbox.c.state == state)
        with self._session.reading() as connection:
            return [_letter(row) for row in connection.execute(chosen)]

    def next_try(self) -> datetime | None:
        """When the earliest waiting letter is to be tried; None when none waits."""
        with self._session.reading() as connection:
            chosen = select(outbox.c.next_try_at).where(outbox.c.state.in_([WAITING, SENDING]))
            at = connection.execute(chosen.order_by(outbox.c.next_try_at).limit(1)).scalar_one_or_none()
        return instant_or_none(at)

    def sending(self, message_id: str) -> None:
        """Noted before the first byte goes out."""
        self._change(message_id, state=SENDING, attempts=outbox.c.attempts + 1)

    def sent(self, message_id: str, now_utc: datetime) -> None:
        self._change(message_id, state=SENT, sent_at=stored(now_utc), trouble="")

    def later(self, message_id: str, next_try_utc: datetime, trouble: str) -> None:
        """Not taken this time: to be tried again, with what was said."""
        self._change(message_id, state=WAITING, next_try_at=stored(next_try_utc), trouble=trouble)

    def withdraw(self, message_id: str) -> None:
        self._change(message_id, state=WITHDRAWN)

    def _change(self, message_id: str, **values: Any) -> None:
        with self._session.writing() as connection:
            connection.execute(update(outbox).where(outbox.c.message_id == message_id).values(**values))


def _letter(row: Row[Any]) -> Letter:
    return Letter(
        message_id=row.message_id,
        person_id=row.person_id,
        kind=row.kind,
        for_on=date.fromisoformat(row.for_on),
        recipient=row.recipient,
        role=row.role,
        message=row.message,
        state=row.state,
        attempts=row.attempts,
        written_at_utc=instant(row.written_at),
        next_try_at_utc=instant(row.next_try_at),
        sent_at_utc=instant_or_none(row.sent_at),
        trouble=row.trouble,
    )
