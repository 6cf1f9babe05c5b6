"""Mail on its way: every message is kept with its id before it is first sent, until a server has taken it.

waiting -> sending -> sent. `sending` is noted just before the server gets the end of the message: one found so when a
run begins was cut off, and whether the server took it cannot be known. It is sent again with the same message id, as is
one whose answer was not heard, a few times; then it is given up.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import Row, case, func, select, update

from gramrise.store.instants import instant, instant_or_none, stored
from gramrise.store.schema import outbox
from gramrise.store.session import Session
from gramrise.store.upsert import insert_into

WAITING: Final = "waiting"
SENDING: Final = "sending"
SENT: Final = "sent"
GIVEN_UP: Final = "given_up"  # sent whole several times without an answer, or refused for days
SET_APART: Final = " early "  # between the kind of a letter written too early and its number
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
    unanswered: int = 0  # times it was handed over whole and no answer was heard


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
        """Letters to be sent now, those tried least first, then oldest: no letter keeps others from being tried.

        Waiting ones whose time has come, and those a crash cut off.

        A next try that lies further ahead than any pause between tries means the clock was set back: it is due.
        """
        with self._session.reading() as connection:
            chosen = select(outbox).where(outbox.c.state.in_([WAITING, SENDING])).order_by(outbox.c.attempts)
            return [
                _letter(row)
                for row in connection.execute(chosen.order_by(outbox.c.written_at, outbox.c.message_id))
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

    def trying(self, message_id: str) -> None:
        """Noted before the first byte goes out."""
        self._change(message_id, attempts=outbox.c.attempts + 1)

    def sending(self, message_id: str) -> None:
        """Noted before the end of the message goes out: from now on the server may have taken it."""
        self._change(message_id, state=SENDING)

    def not_answered(self, message_id: str, next_try_utc: datetime, trouble: str, most: int) -> None:
        """Handed over whole, and no answer was heard: to be tried again, up to `most` times in all."""
        given_up = outbox.c.unanswered + 1 >= most
        state = case((given_up, GIVEN_UP), else_=WAITING)
        counted = outbox.c.unanswered + 1
        self._change(message_id, unanswered=counted, state=state, next_try_at=stored(next_try_utc), trouble=trouble)

    def give_up(self, message_id: str, trouble: str) -> None:
        """Refused for so long that it is not tried any more."""
        self._change(message_id, state=GIVEN_UP, trouble=trouble)

    def sent(self, message_id: str, now_utc: datetime) -> None:
        self._change(message_id, state=SENT, sent_at=stored(now_utc), trouble="")

    def later(self, message_id: str, next_try_utc: datetime, trouble: str) -> None:
        """Not taken this time: to be tried again, with what was said."""
        self._change(message_id, state=WAITING, next_try_at=stored(next_try_utc), trouble=trouble)

    def set_apart(self, person_id: str, kind: str, for_on: date) -> None:
        """Gives the letters of a week another kind, so that it can be written anew; waiting ones are withdrawn."""
        mine = (outbox.c.person_id == person_id, outbox.c.for_on == for_on.isoformat())
        number = self.editions(person_id, kind, for_on)
        with self._session.writing() as connection:
            these = update(outbox).where(*mine, outbox.c.kind == kind)
            connection.execute(these.where(outbox.c.state.in_([WAITING, SENDING])).values(state=WITHDRAWN))
            connection.execute(these.values(kind=f"{kind}{SET_APART}{number + 1}"))

    def editions(self, person_id: str, kind: str, for_on: date) -> int:
        """How often the letters of a week were set apart."""
        mine = (outbox.c.person_id == person_id, outbox.c.for_on == for_on.isoformat())
        chosen = select(outbox.c.kind).where(*mine, outbox.c.kind.startswith(f"{kind}{SET_APART}", autoescape=True))
        with self._session.reading() as connection:
            return len(set(connection.execute(chosen).scalars()))

    def written(self, person_id: str, kind: str, for_on: date) -> int:
        """How many letters of a week there are, whatever became of them."""
        mine = (outbox.c.person_id == person_id, outbox.c.for_on == for_on.isoformat(), outbox.c.kind == kind)
        with self._session.reading() as connection:
            return len(connection.execute(select(outbox.c.message_id).where(*mine)).all())

    def empty_before(self, before_utc: datetime) -> int:
        """Takes the text out of letters of before that are on no way any more; that they were, stays. How many."""
        over = (outbox.c.state.not_in([WAITING, SENDING]), outbox.c.written_at < stored(before_utc))
        with self._session.writing() as connection:
            these = update(outbox).where(*over, func.length(outbox.c.message) > 0)
            return int(connection.execute(these.values(message=b"")).rowcount)

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
        unanswered=row.unanswered,
    )
