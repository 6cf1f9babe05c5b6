"""What a page of the review consists of once its words are chosen; links name places, never files."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import ClassVar


class PageKind(StrEnum):
    PANEL = "panel"
    PERSON = "person"
    PAIRINGS = "pairings"
    VISIT = "visit"


@dataclass(frozen=True, slots=True)
class Place:
    """A page of a person, or the panel, and a part of it. Whoever shows the pages says at which address it is."""

    kind: PageKind
    person_id: str = ""
    part: str = ""


@dataclass(frozen=True, slots=True)
class Link:
    text: str
    to: Place


@dataclass(frozen=True, slots=True)
class Strong:
    text: str


Piece = str | Link | Strong
Line = tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Heading:
    kind: ClassVar[str] = "heading"
    text: str
    part: str = ""


@dataclass(frozen=True, slots=True)
class Paragraph:
    kind: ClassVar[str] = "paragraph"
    line: Line
    quiet: bool = False
    lead: bool = False  # the page's first statement, set larger


@dataclass(frozen=True, slots=True)
class Items:
    kind: ClassVar[str] = "items"
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """`group`: a heading over the rows that follow, its only cell over the whole width."""

    cells: tuple[Line, ...]
    note: Line = ()
    group: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """`right` says of each column whether its cells are numbers, set to the right with figures of equal width."""

    kind: ClassVar[str] = "table"
    title: str
    head: tuple[str, ...]
    right: tuple[bool, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    kind: ClassVar[str] = "figure"
    svg: str
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class Small:
    """One of many small pictures, with its own lines."""

    part: str
    title: str
    svg: str
    alt: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Smalls:
    kind: ClassVar[str] = "smalls"
    pictures: tuple[Small, ...]


Block = Heading | Paragraph | Items | Table | Figure | Smalls


@dataclass(frozen=True, slots=True)
class Page:
    """A page ready to be set. `ways` lead to the other pages; the page itself stands among them as text."""

    place: Place
    language: str
    title: str
    kicker: str
    heading: str
    subtitle: str
    written: str
    ways: tuple[Piece, ...]
    ways_label: str
    footer: str
    blocks: tuple[Block, ...] = field(default=())


def plain(line: Line) -> str:
    """A line as text alone."""
    return "".join(piece if isinstance(piece, str) else piece.text for piece in line)


def joined(*parts: Line | str) -> Line:
    """Sentences one after the other, a blank between them; empty ones fall out."""
    found: list[Piece] = []
    for part in parts:
        pieces: Line = (part,) if isinstance(part, str) else part
        if not plain(pieces):
            continue
        found += [" ", *pieces] if found else [*pieces]
    return tuple(found)
