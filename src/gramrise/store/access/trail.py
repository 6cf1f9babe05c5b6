"""The audit trail: who saw, changed or signed what. Rows are added and never changed, not even by us.

On SQLite triggers refuse; on PostgreSQL the table is moreover given to a role of its own, of which the application's
role may only add and read (`apart_sql`). A person stands in it under a code made with the home's mark, so that
`forget` leaves nothing of their name; no value stands in it.
"""

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, insert, select, text

from gramrise.store.instants import instant, stored
from gramrise.store.schema import audit, service
from gramrise.store.session import Session

SAW: Final = "saw"
CHANGED: Final = "changed"
SIGNED: Final = "signed"
TOOK_OUT: Final = "took_out"  # a copy left the database: export, backup
CODE_LETTERS: Final = 16
OWNER: Final = "gramrise_audit"


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts: a device that was let in, a user of the machine, the service.

    who   how the house knows them: an account of the machine, 'device 3'; never a health value
    role  parent | helper | clinic | command | service
    """

    who: str = ""
    role: str = "service"


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the trail. `person` is a code (`Trail.code_of`), '' where it is about nobody."""

    audit_id: int
    at_utc: datetime
    who: str
    role: str
    did: str
    what: str
    person: str


class Trail:
    """The audit trail of a store; every method is one transaction."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def note(self, actor: Actor, did: str, what: str, now_utc: datetime, person_id: str | None = None) -> None:
        """Adds a line. `what`: a fixed word, as 'report' or 'glucose_given'."""
        with self._session.writing(person_id) as connection:
            note(connection, actor, did, what, now_utc, person_id)

    def entries(self, person_id: str | None = None, most: int = 100) -> list[Entry]:
        """The latest lines, latest first; those about one person, or all."""
        with self._session.reading() as connection:
            chosen = select(audit).order_by(audit.c.audit_id.desc()).limit(most)
            if person_id is not None:
                chosen = chosen.where(audit.c.person == code_of(connection, person_id))
            return [Entry(row[0], instant(row[1]), *row[2:]) for row in connection.execute(chosen)]

    def code_of(self, person_id: str) -> str:
        """The code under which a person stands in the trail of this home."""
        with self._session.reading() as connection:
            return code_of(connection, person_id)

    def can_be_edited(self) -> bool:
        """Whether the role we use could change the trail. A file of SQLite's belongs to whoever can write it."""
        if not self._session.on_server:
            return False
        asked = "SELECT " + " OR ".join(
            f"has_table_privilege('audit', '{right}')" for right in ("UPDATE", "DELETE", "TRUNCATE", "TRIGGER")
        )
        with self._session.reading() as connection:
            return bool(connection.execute(text(asked)).scalar_one())

    def apart_sql(self) -> str:
        """What the server's administrator runs once, so that our role can only add to the trail and read it."""
        ours = self._session.engine.url.username or "gramrise"
        return "\n".join(
            (
                f"CREATE ROLE {OWNER} NOLOGIN;",
                f"GRANT CREATE ON SCHEMA public TO {OWNER};",
                f"ALTER TABLE audit OWNER TO {OWNER};",
                f"ALTER FUNCTION audit_stays() OWNER TO {OWNER};",
                f"REVOKE CREATE ON SCHEMA public FROM {OWNER};",
                "REVOKE ALL ON audit FROM PUBLIC;",
                f'REVOKE ALL ON audit FROM "{ours}";',
                f'GRANT SELECT, INSERT ON audit TO "{ours}";',
                f'GRANT USAGE, SELECT ON SEQUENCE audit_audit_id_seq TO "{ours}";',
            )
        )


def note(
    connection: Connection, actor: Actor, did: str, what: str, now_utc: datetime, person_id: str | None = None
) -> None:
    """Adds a line within the transaction of what it tells: both happen, or neither."""
    about = "" if person_id is None else code_of(connection, person_id)
    told: dict[str, Any] = {"at": stored(now_utc), "who": actor.who, "role": actor.role, "did": did, "what": what}
    connection.execute(insert(audit).values(person=about, **told))


def code_of(connection: Connection, person_id: str) -> str:
    """A keyed hash: whoever has the trail alone cannot try out names."""
    mark = connection.execute(select(service.c.value).where(service.c.key == "home_mark")).scalar_one_or_none()
    key = str(json.loads(mark)).encode() if mark else b""
    return hashlib.blake2b(person_id.encode(), key=key[:64], digest_size=CODE_LETTERS // 2).hexdigest()
