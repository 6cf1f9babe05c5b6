"""Headers of data points: Open mHealth 1.0 to 1.2 (id, creation_date_time) and IEEE 1752.1 (uuid)."""

from dataclasses import dataclass
from typing import Any, Final, Literal

from pydantic import Field

from gramrise.connectors.open_mhealth.shapes import Strict, StrictText, modelled, read_time
from gramrise.connectors.standards import Hold, Instant


class SchemaId(Strict):
    namespace: StrictText
    name: StrictText
    version: StrictText = Field(pattern=r"^\d+(\.\w+)*$")


class Provenance(Strict):
    source_name: StrictText
    source_data_point_id: str | None = None
    source_creation_date_time: str | None = None
    source_last_modification_date_time: str | None = None
    modality: Literal["sensed", "self-reported"] | None = None


class OmhHeader(Strict):
    id: StrictText
    creation_date_time: str
    schema_id: SchemaId
    acquisition_provenance: Provenance | None = None
    user_id: StrictText | None = None


class IeeeHeader(Strict):
    uuid: StrictText
    schema_id: SchemaId
    source_creation_date_time: str
    modality: Literal["sensed", "self-reported"] | None = None
    acquisition_rate: Any = None
    external_datasheets: Any = None
    # Of no schema of it, legal as a further member, and written by programs that hold several users.
    user_id: Any = None


@dataclass(frozen=True, slots=True)
class Header:
    """What is read of either header. Its times say when a record was made, never when something was measured.

    user_id  whose the record is, as its sender names them; '' where it names nobody
    """

    identity: str
    made: Instant
    schema: SchemaId
    user_id: str


NAMESPACES: Final = frozenset({"omh", "openmhealth", "ieee"})


def read_header(raw: object) -> Header:
    """Either header. Raises Hold."""
    if not isinstance(raw, dict):
        raise Hold("not_the_standard", "header")
    if "uuid" in raw:
        ieee = modelled(IeeeHeader, raw, "header")
        whose = str(ieee.user_id) if isinstance(ieee.user_id, str | int) else ""
        return Header(ieee.uuid, read_time(ieee.source_creation_date_time, "header"), ieee.schema_id, whose)
    omh = modelled(OmhHeader, raw, "header")
    made = read_time(omh.creation_date_time, "header")
    provenance = omh.acquisition_provenance
    if provenance is not None:
        for told in (provenance.source_creation_date_time, provenance.source_last_modification_date_time):
            if told is not None:
                read_time(told, "header.acquisition_provenance")
    return Header(omh.id, made, omh.schema_id, omh.user_id or "")
