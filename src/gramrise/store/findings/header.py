"""Whether stored findings rest on today's inputs and model, told from their header without reading frames."""

from datetime import datetime

from sqlalchemy import Connection, select

from gramrise.domain.model_version import MODEL_VERSION
from gramrise.store.input_times import inputs_version
from gramrise.store.instants import instant
from gramrise.store.schema import findings


def current_as_of(connection: Connection, person_id: str) -> datetime | None:
    """The instant as of which stored findings hold; None when there are none, or inputs or model changed since."""
    top = connection.execute(select(findings).where(findings.c.person_id == person_id)).first()
    if top is None or (top.model_version, top.inputs_version) != (MODEL_VERSION, inputs_version(connection, person_id)):
        return None
    return instant(top.as_of_utc)
