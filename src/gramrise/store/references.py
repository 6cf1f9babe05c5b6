"""Signed references: every sign-off as it was recorded, as JSON; nothing is overwritten but the day of withdrawal."""

from datetime import date

from sqlalchemy import Connection, func, insert, select, update

from gramrise.domain.problems import WrongUse
from gramrise.domain.references import SignedReference
from gramrise.store.schema import signed_references


def next_number(connection: Connection, person_id: str) -> int:
    """The number of the next sign-off of a person."""
    mine = signed_references.c.person_id == person_id
    last = connection.execute(select(func.max(signed_references.c.number)).where(mine)).scalar_one()
    return int(last or 0) + 1


def keep(connection: Connection, reference: SignedReference) -> None:
    """Adds a sign-off. Raises IntegrityError when its number is taken: two commands signed at the same moment."""
    told = reference.model_dump_json(exclude={"withdrawn_on"})
    connection.execute(
        insert(signed_references).values(person_id=reference.person_id, number=reference.number, reference=told)
    )


def load(connection: Connection, person_id: str) -> list[SignedReference]:
    """All sign-offs of a person, the latest first."""
    mine = signed_references.c.person_id == person_id
    chosen = select(signed_references).where(mine).order_by(signed_references.c.number.desc())
    return [_read(row.reference, row.withdrawn_on) for row in connection.execute(chosen)]


def withdraw(connection: Connection, person_id: str, number: int, on: date) -> None:
    """Notes that a sign-off was taken back. Raises WrongUse where there is none, or it was taken back before."""
    mine = (signed_references.c.person_id == person_id, signed_references.c.number == number)
    standing = signed_references.c.withdrawn_on.is_(None)
    done = connection.execute(update(signed_references).where(*mine, standing).values(withdrawn_on=on.isoformat()))
    if done.rowcount != 1:
        raise WrongUse(
            f"there is no sign-off {number} of '{person_id}' that stands", "gramrise sign PERSON --list shows them"
        )


def _read(told: str, withdrawn_on: str | None) -> SignedReference:
    reference = SignedReference.model_validate_json(told)
    if withdrawn_on is None:
        return reference
    return reference.model_copy(update={"withdrawn_on": date.fromisoformat(withdrawn_on)})
