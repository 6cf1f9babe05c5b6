"""`gramrise counts --json`: its keys, promised to programs."""

from datetime import datetime
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, Field

from gramrise import __version__

if TYPE_CHECKING:
    from gramrise.place import PlacedCount


class _Document(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class GivenAt(_Document):
    """Pieces at one recovery."""

    at_utc: datetime
    pieces: int


class Placement(_Document):
    """One way to lay the pieces; those that are in no `given` are not this child's, or left no trace."""

    probability: float
    given: list[GivenAt]


class CountRow(_Document):
    """One count of a container."""

    person: str
    container: str
    from_utc: datetime
    to_utc: datetime
    pieces_filled: int
    pieces_left: int
    grams_untimed: float = Field(description="gone from the container and not logged, g; never called eaten")
    placements: list[Placement] = Field(description="most probable first; one without `given` is always among them")


class CountsDocument(_Document):
    """All counts of a person, oldest first."""

    gramrise: str
    counts: list[CountRow]


def counts_document(placed: "list[PlacedCount]") -> CountsDocument:
    """The document of placed counts."""
    return CountsDocument(gramrise=__version__, counts=[_row(each) for each in placed])


def _row(placed: "PlacedCount") -> CountRow:
    count = placed.count
    layings = () if placed.laid is None else placed.laid.layings
    return CountRow(
        person=count.person_id,
        container=count.container,
        from_utc=count.from_utc,
        to_utc=count.to_utc,
        pieces_filled=count.pieces_filled,
        pieces_left=count.pieces_left,
        grams_untimed=placed.grams_untimed,
        placements=[
            Placement(
                probability=way.probability,
                given=[
                    GivenAt(at_utc=each.at_utc, pieces=n)
                    for each, n in zip(placed.recoveries, way.pieces, strict=True)
                    if n
                ],
            )
            for way in layings
        ],
    )
