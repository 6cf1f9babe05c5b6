"""The weekly report as plain text: for the text part of a mail and for people who read without pictures."""

from textwrap import wrap
from typing import Final

from gramrise.report.weekly.chapters.document import (
    Answers,
    Block,
    Bullets,
    Document,
    Heading,
    Paragraph,
    Picture,
    Row,
    Table,
)
from gramrise.report.weekly.chapters.report_document import document_of
from gramrise.report.weekly.numbers.view import WeeklyView
from gramrise.report.weekly.settings import DEFAULT, ReportSettings

# The longest line that mail programs show unbroken (RFC 5322, section 2.1.1).
WIDTH: Final = 78
GAP: Final = "  "
SOFT_HYPHEN: Final = "\u00ad"  # where a head may be broken on paper


def render_text(view: WeeklyView, settings: ReportSettings = DEFAULT) -> str:
    """The whole report, no line over 78 characters."""
    return text_of(document_of(view, settings))


def text_of(document: Document) -> str:
    head = [document.kicker, document.name, *wrapped(document.subtitle), document.written]
    parts = ["\n".join(line for text in head for line in wrapped(text))]
    parts += [_set(block) for block in document.blocks]
    parts.append("\n".join(["-" * WIDTH, *wrapped(document.footer_caution)]))
    return "\n\n".join(part for part in parts if part) + "\n"


def _set(block: Block) -> str:
    match block:
        case Heading(text):
            return "\n".join(["", *wrapped(text.upper()), "-" * min(WIDTH, len(text))])
        case Paragraph(text):
            return "\n".join(wrapped(text))
        case Bullets(items, _):
            return "\n".join(line for item in items for line in wrapped(item, "- ", "  "))
        case Answers(figures):
            return "\n\n".join(_answer(f.band, f.hours, f.lead, f.value, f.unit, f.likely, f.basis) for f in figures)
        case Table():
            return _table(block)
        case Picture():
            return "\n".join(wrapped(block.alt))


def _answer(band: str, hours: str, lead: str, value: str, unit: str, likely: str, basis: str) -> str:
    number = f"{lead} {value} {unit}, {likely}" if value else lead
    return "\n".join([f"{band} {hours}", *wrapped(number, "  ", "  "), *wrapped(basis, "  ", "  ")])


def _table(table: Table) -> str:
    """Columns side by side, heads broken over lines; a table too wide for the page is told row by row."""
    heads = [head.replace(SOFT_HYPHEN, "- ") for head in table.head]
    columns = [[*head.split(), *(row.cells[i] for row in table.rows)] for i, head in enumerate(heads)]
    widths = [max(len(text) for text in column) for column in columns]
    if sum(widths) + len(GAP) * (len(widths) - 1) > WIDTH:
        return "\n".join(line for row in table.rows for line in _told(table, row))
    broken = [wrap(head, width) for head, width in zip(heads, widths, strict=True)]
    deep = max(len(lines) for lines in broken)
    lines = [_line([([""] * (deep - len(h)) + h)[i] for h in broken], widths, table.right) for i in range(deep)]
    for row in table.rows:
        lines.append(_line(list(row.cells), widths, table.right))
        lines += wrapped(row.note, "    ", "    ")
    return "\n".join(lines)


def _told(table: Table, row: Row) -> list[str]:
    first, *rest = zip(table.head, row.cells, strict=True)
    told = "; ".join(f"{head}: {text}" for head, text in rest)
    return [*wrapped(f"{first[1]}: {told}."), *wrapped(row.note, "    ", "    ")]


def _line(cells: list[str], widths: list[int], right: tuple[bool, ...]) -> str:
    padded = [c.rjust(w) if r else c.ljust(w) for c, w, r in zip(cells, widths, right, strict=True)]
    return GAP.join(padded).rstrip()


def wrapped(text: str, first: str = "", later: str = "") -> list[str]:
    """Lines of at most 78 characters."""
    return (
        wrap(
            text.replace(SOFT_HYPHEN, ""), WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False
        )
        if text
        else []
    )
