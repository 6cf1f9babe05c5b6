"""What a report consists of once its words are chosen: blocks that HTML, plain text and PDF each set in their way."""

from dataclasses import asdict, dataclass, field
from typing import Any, ClassVar


@dataclass(frozen=True, slots=True)
class AnswerFigure:
    """One band's answer, the largest thing on page 1. `value` is '' when no number can be given."""

    band: str
    hours: str
    lead: str
    value: str
    unit: str
    likely: str
    basis: str


@dataclass(frozen=True, slots=True)
class Answers:
    kind: ClassVar[str] = "answers"
    figures: tuple[AnswerFigure, ...]


@dataclass(frozen=True, slots=True)
class Heading:
    kind: ClassVar[str] = "heading"
    text: str
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class Paragraph:
    kind: ClassVar[str] = "paragraph"
    text: str
    quiet: bool = False  # a remark under a picture or table, set smaller


@dataclass(frozen=True, slots=True)
class Bullets:
    kind: ClassVar[str] = "bullets"
    items: tuple[str, ...]
    close: bool = False  # a long list of remarks, set a little smaller on paper


@dataclass(frozen=True, slots=True)
class Row:
    cells: tuple[str, ...]
    note: str = ""  # a sentence set below the cells, over the row's whole width
    total: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """`right` says of each column whether its cells are numbers, set to the right with figures of equal width."""

    kind: ClassVar[str] = "table"
    title: str  # read out by a screen reader; the heading above says the same to the eye
    head: tuple[str, ...]
    right: tuple[bool, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    kind: ClassVar[str] = "picture"
    name: str
    svg: str
    narrow_svg: str  # the same for a mail and a small screen
    alt: str
    caption: str  # how to read it; plain text has the alternative text instead


Block = Answers | Heading | Paragraph | Bullets | Table | Picture


@dataclass(frozen=True, slots=True)
class Document:
    """A report ready to be set. `language` is that of its words, not necessarily the person's."""

    language: str
    title: str
    kicker: str
    name: str
    subtitle: str
    written: str
    footer: str
    footer_caution: str
    page: str  # pattern with {page} and {pages}
    blocks: tuple[Block, ...] = field(default=())

    def plain(self) -> dict[str, Any]:
        """Plain values for a template: every block a mapping with its `kind`."""
        return {**asdict(self), "blocks": [{"kind": block.kind, **asdict(block)} for block in self.blocks]}

    def texts(self) -> list[str]:
        """Every text of the report in reading order, pictures by their alternative text."""
        found = [self.kicker, self.name, self.subtitle, self.written]
        for block in self.blocks:
            found += texts_of(block)
        return [text for text in found if text]


def texts_of(block: Block) -> list[str]:
    """Every text of a block in reading order."""
    match block:
        case Answers(figures):
            return [t for f in figures for t in (f.band, f.hours, f.lead, f.value, f.unit, f.likely, f.basis)]
        case Heading(text) | Paragraph(text):
            return [text]
        case Bullets(items, _):
            return list(items)
        case Table(_, head, _, rows):
            return [*head, *(text for row in rows for text in (*row.cells, row.note))]
        case Picture():
            return [block.alt, block.caption]
