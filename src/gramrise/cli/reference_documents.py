"""The JSON document of a person's sign-offs."""

from pydantic import BaseModel, ConfigDict, Field

from gramrise import __version__
from gramrise.domain.references import EndedBy, SignedReference


class ReferenceRow(SignedReference):
    """One sign-off, and what has ended it by now; empty: it holds."""

    ended_by: tuple[EndedBy, ...] = ()


class ReferencesDocument(BaseModel):
    model_config = ConfigDict(extra="forbid")

    gramrise: str = Field(description="version of the program")
    references: tuple[ReferenceRow, ...] = Field(description="the latest first; a typed name is no authentication")


def references_document(found: list[tuple[SignedReference, tuple[EndedBy, ...]]]) -> str:
    rows = tuple(ReferenceRow.model_validate({**dict(one), "ended_by": ended}) for one, ended in found)
    return ReferencesDocument(gramrise=__version__, references=rows).model_dump_json(indent=1)
