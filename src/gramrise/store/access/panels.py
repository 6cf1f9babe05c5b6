"""Panels: which of the persons in one database a clinic's people see. Whoever is in none is seen by no clinic.

A family's own devices are bound to their persons elsewhere; a panel only ever narrows what the role `clinic` sees.
"""

from collections.abc import Iterable

from sqlalchemy import delete, select

from gramrise.domain.problems import WrongUse
from gramrise.store.persons import refuse_unknown
from gramrise.store.schema import panels
from gramrise.store.session import Session
from gramrise.store.upsert import insert_into


class Panels:
    """The panels of a store; every method is one transaction."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def all(self) -> dict[str, list[str]]:
        """Every panel by name, with the ids of its persons in order."""
        with self._session.reading() as connection:
            found: dict[str, list[str]] = {}
            for row in connection.execute(select(panels).order_by(panels.c.panel, panels.c.person_id)):
                found.setdefault(row.panel, []).append(row.person_id)
            return found

    def persons_of(self, panel: str) -> list[str]:
        """The ids a panel shows, in order; [] for a panel nobody is in."""
        return self.all().get(panel, [])

    def refuse_other(self, panel: str, person_id: str) -> None:
        """Raises WrongUse for whoever the panel does not show: in the same words as for an id nobody has."""
        with self._session.reading() as connection:
            mine = (panels.c.panel == panel, panels.c.person_id == person_id)
            if connection.execute(select(panels.c.panel).where(*mine)).first() is None:
                raise WrongUse(f"nobody here has the id '{person_id}'", "look at the list of persons", "person_unknown")

    def add(self, panel: str, persons: Iterable[str]) -> None:
        """Shows persons in a panel, made with the first of them. Raises WrongUse for an unknown id; none is added."""
        if not panel.strip():
            raise WrongUse("a panel needs a name", "name it by the clinic or the team: 'north'")
        with self._session.writing() as connection:
            for person_id in persons:
                refuse_unknown(connection, person_id)
                put = insert_into(connection, panels).values(panel=panel, person_id=person_id)
                connection.execute(put.on_conflict_do_nothing())

    def remove(self, panel: str, persons: Iterable[str]) -> None:
        """Shows persons in a panel no longer."""
        with self._session.writing() as connection:
            for person_id in persons:
                mine = (panels.c.panel == panel, panels.c.person_id == person_id)
                connection.execute(delete(panels).where(*mine))
