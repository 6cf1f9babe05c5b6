"""The card as plain text for a terminal of 80 columns: the same words as on paper."""

import textwrap
from collections.abc import Iterator
from typing import Final
from unicodedata import bidirectional

from gramrise.report.card.numbers.view import CardView
from gramrise.report.card.pages.face import BandFace, CardFace, CellFace, PageFace, SchoolFace, face_of

WIDTH: Final = 80  # the narrowest terminal people use
READING_WIDTH: Final = 17
COLUMN_GAP: Final = "  "
# Unicode's own marks around a name that is written from right to left (UAX 9), so that the line stays in order.
ISOLATE: Final = ("\u2068", "\u2069")


def card_text(view: CardView) -> str:
    """The card in lines of at most 80 columns."""
    face = face_of(view)
    lines = [*_head(face)]
    lines += ["", *_at_school(face.school)] if face.school is not None else []
    for page in face.pages:
        lines += ["", *_table(face, page)]
    lines += ["", *_wrapped(face.no_early), *_wrapped(face.finer)] if face.no_early else []
    for note in face.notes.all:
        lines += ["", note.heading.upper()]
        for line in note.lines:
            lines += _wrapped(isolated(line), "- ")
    return "\n".join([*lines, "", face.footer]) + "\n"


def isolated(name: str) -> str:
    """The name between isolating marks where it holds letters written from right to left."""
    turned = any(bidirectional(letter) in {"R", "AL"} for letter in name)
    return f"{ISOLATE[0]}{name}{ISOLATE[1]}" if turned else name


def _head(face: CardFace) -> Iterator[str]:
    yield f"{face.title}   {face.tag.upper()}".rstrip()
    yield "=" * WIDTH
    yield from _wrapped(f"{isolated(face.name)}, {face.born}")
    notes = f" ({face.source_notes})" if face.source_notes else ""
    yield from _wrapped(f"{face.source}: {isolated(face.source_name)}{notes}")
    yield face.first_only.upper()
    yield from _wrapped(". ".join(part for part in (face.made, face.weighed, face.until) if part) + ".")
    yield from _wrapped(isolated(face.approved))
    yield from _wrapped(face.source_care)


def _at_school(school: SchoolFace) -> Iterator[str]:
    yield "=" * WIDTH
    yield from _wrapped(f"{school.when}:  [ {school.amount} ]  {school.grams}".rstrip())
    yield from _wrapped(school.below_54)
    yield "=" * WIDTH
    for line in (school.annex, school.year, school.authorised, school.staff, school.kit, school.travels):
        yield from _wrapped(isolated(line), "- ")


def _table(face: CardFace, page: PageFace) -> Iterator[str]:
    if page.part:
        yield page.part
    width = (WIDTH - READING_WIDTH - len(COLUMN_GAP) * len(page.bands)) // len(page.bands)
    yield from _side_by_side(f"{face.reading} {face.unit}", [_band_lines(band) for band in page.bands], width)
    yield "=" * WIDTH
    below = face.below_54
    amount = f"{below.amount} {below.grams}".strip()
    told = [f"{amount} {below.plan}".strip(), *([below.near] if below.near else []), below.finger]
    yield from _side_by_side(below.reading, [told], WIDTH - READING_WIDTH - len(COLUMN_GAP))
    yield "=" * WIDTH
    for at, row in enumerate(page.rows):
        if at:
            yield "-" * WIDTH
        cells = [_cell_lines(cell) for cell in row.cells]
        yield from _side_by_side(f"{row.reading} {row.condition}".strip(), cells, width)
    yield "=" * WIDTH


def _band_lines(band: BandFace) -> list[str]:
    return [f"{isolated(band.name)} {band.hours}", band.measured]


def _cell_lines(cell: CellFace) -> list[str]:
    if not cell.amount:
        return [cell.instead]
    # The amount stands out without colour or size: nothing else on the card is in brackets of this kind.
    return [f"[ {cell.amount} ]  {cell.grams}", *cell.lines[1:]]


def _side_by_side(left: str, columns: list[list[str]], width: int) -> Iterator[str]:
    """Cells beside each other, each wrapped to its own width."""
    blocks = [textwrap.wrap(left, READING_WIDTH)]
    blocks += [[part for line in lines for part in textwrap.wrap(line, width)] for lines in columns]
    for at in range(max(len(block) for block in blocks)):
        parts = [block[at] if at < len(block) else "" for block in blocks]
        widths = [READING_WIDTH, *[width] * len(columns)]
        yield COLUMN_GAP.join(_padded(part, wide) for part, wide in zip(parts, widths, strict=True)).rstrip()


def _padded(text: str, width: int) -> str:
    """Filled up with blanks to what is seen: marks of direction take no room."""
    return text + " " * (width - sum(letter not in ISOLATE for letter in text))


def _wrapped(text: str, mark: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))
