"""Phones and other devices that may open the page: let in once by a link, shut out for good.

Links and sessions come in as the hashes of what only the device knows; whoever reads the database can use neither.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, Row, insert, select, update

from gramrise.domain.problems import WrongUse
from gramrise.store import persons
from gramrise.store.instants import instant, instant_or_none, stored
from gramrise.store.schema import devices
from gramrise.store.session import Session

HELPER: Final = "helper"  # logs, and sees the card
PARENT: Final = "parent"  # everything of the family
CLINIC: Final = "clinic"  # reads the review
ROLES: Final = (HELPER, PARENT, CLINIC)


@dataclass(frozen=True, slots=True)
class Device:
    """One device for one person. `let_in_at_utc` None: its link was not used yet."""

    device_id: int
    person_id: str
    role: str
    label: str
    link_until_utc: datetime
    let_in_at_utc: datetime | None = None
    read_at_utc: datetime | None = None
    shut_out_at_utc: datetime | None = None


class Devices:
    """The devices of a store; every method is one transaction."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def invite(self, person_ids: Sequence[str], role: str, label: str, link_hash: str, until_utc: datetime) -> None:
        """Makes a link that lets one device in, once, for these persons. Raises WrongUse for an unknown person."""
        with self._session.writing() as connection:
            for person_id in person_ids:
                persons.refuse_unknown(connection, person_id)
                row = {"person_id": person_id, "role": role, "label": label}
                connection.execute(insert(devices).values(link_hash=link_hash, link_until=stored(until_utc), **row))

    def is_open(self, link_hash: str, now_utc: datetime) -> bool:
        """Whether a link still lets a device in."""
        with self._session.reading() as connection:
            return bool(_invited(connection, link_hash, now_utc))

    def let_in(self, link_hash: str, session_hash: str, now_utc: datetime, before: str | None = None) -> bool:
        """Uses a link up; False where it was used, is too old, or never was.

        before  hash of the session this device had: what it was let in for then goes on under the new session
        """
        with self._session.writing() as connection:
            invited = _invited(connection, link_hash, now_utc)
            if not invited:
                return False
            if before is not None:
                mine = devices.c.session_hash == before
                connection.execute(update(devices).where(mine).values(session_hash=session_hash))
            now = stored(now_utc)
            used = {"link_hash": None, "session_hash": session_hash, "let_in_at": now, "read_at": now}
            connection.execute(update(devices).where(devices.c.device_id.in_(invited)).values(**used))
            return True

    def of_session(self, session_hash: str) -> list[Device]:
        """What a session may open, a device a person, in the order they were let in; empty for one that is none."""
        mine = (devices.c.session_hash == session_hash, devices.c.shut_out_at.is_(None))
        with self._session.reading() as connection:
            found = connection.execute(select(devices).where(*mine).order_by(devices.c.device_id))
            latest = {row.person_id: _device(row) for row in found}  # let in twice for one person: the later role holds
            return list(latest.values())

    def note_read(self, device_id: int, now_utc: datetime) -> None:
        """Notes that more than the log was opened on a device."""
        with self._session.writing() as connection:
            mine = devices.c.device_id == device_id
            connection.execute(update(devices).where(mine).values(read_at=stored(now_utc)))

    def listed(self) -> list[Device]:
        """Every device that was ever invited, oldest first."""
        with self._session.reading() as connection:
            return [_device(row) for row in connection.execute(select(devices).order_by(devices.c.device_id))]

    def shut_out(self, device_id: int, now_utc: datetime) -> Device:
        """Shuts a device out, or makes its unused link useless. Raises WrongUse for a number no device has."""
        mine = devices.c.device_id == device_id
        with self._session.writing() as connection:
            row = connection.execute(select(devices).where(mine)).first()
            if row is None:
                raise WrongUse(f"there is no device {device_id}", "gramrise devices lists them with their numbers")
            gone = {"session_hash": None, "link_hash": None, "shut_out_at": row.shut_out_at or stored(now_utc)}
            connection.execute(update(devices).where(mine).values(**gone))
            return _device(row)


def _invited(connection: Connection, link_hash: str, now_utc: datetime) -> list[int]:
    open_still = (devices.c.link_hash == link_hash, devices.c.link_until > stored(now_utc))
    return list(connection.execute(select(devices.c.device_id).where(*open_still)).scalars())


def _device(row: Row[Any]) -> Device:
    return Device(
        row.device_id,
        row.person_id,
        row.role,
        row.label,
        instant(row.link_until),
        instant_or_none(row.let_in_at),
        instant_or_none(row.read_at),
        instant_or_none(row.shut_out_at),
    )
