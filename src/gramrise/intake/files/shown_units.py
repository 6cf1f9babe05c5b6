"""What a sheet shows around its cells: a format '0" g"' makes '4 g' of 4; a line through it, or a comment beside it."""

import io
import re
from collections.abc import Mapping
from typing import Any, Final

# A format whose words stand in quotation marks, or behind a backslash, as the file writes it.
_WORDED: Final = re.compile(rb'formatCode="[^"]{0,255}(?:&quot;|\\)', re.IGNORECASE)
_TOKEN: Final = re.compile(r'"([^"]{0,255})"|\\(.)|\[[^\]]{0,99}\]|[_*].|General|.', re.IGNORECASE | re.DOTALL)
_LONGEST: Final = 255  # letters of a format; the limit of the programs that write them
_PLACES: Final = frozenset({"0", "#", "?", "general"})
_OF_A_TIME: Final = frozenset("dmyhs")

# A font with a line through it: what is written so was taken back by hand.
_STRUCK: Final = re.compile(rb"<(?:\w{1,20}:)?strike\b(?![^>]{0,99}\bval=\"(?:0|false)\")", re.IGNORECASE)
STRUCK_OUT: Final = "(struck out)"
_MOST_COMMENT: Final = 200  # letters kept of a comment; our choice

Shown = dict[tuple[int, int], tuple[str, str]]


def may_show_words(parts: Mapping[str, bytes]) -> bool:
    """Whether cells of a workbook need a look: a format has words of its own, a font a line through it, or comments."""
    styles = parts.get("xl/styles.xml", b"")
    return _WORDED.search(styles) is not None or _STRUCK.search(styles) is not None or has_comments(parts)


def has_comments(parts: Mapping[str, bytes]) -> bool:
    """Whether somebody wrote a comment beside a cell."""
    return any(name.startswith(("xl/comments", "xl/threadedComments")) for name in parts)


def shown_around(data: bytes, sheet_name: str, comments: bool = False) -> Shown:
    """By row from 0 and column from the first that is filled: the words before and behind each such cell.

    comments  they are read, too; for them the whole workbook is loaded
    """
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=not comments, data_only=True)
    try:
        found: Shown = {}
        known: dict[str, tuple[str, str]] = {}
        first = top = None
        for cells in book[sheet_name].iter_rows():
            for cell in cells:
                if cell.value is None:
                    continue
                first = cell.column if first is None else min(first, cell.column)
                top = top or cell.row
                around = _around(cell, known, of_header=cell.row == top)
                if around != ("", ""):
                    found[cell.row - 1, cell.column] = around
    finally:
        book.close()
    return {(row, column - (first or 0)): around for (row, column), around in found.items()}


def _around(cell: Any, known: dict[str, tuple[str, str]], *, of_header: bool) -> tuple[str, str]:
    """The words before and behind one cell. `known`: those of each number format met before."""
    before = behind = ""
    if isinstance(cell.value, int | float) and not isinstance(cell.value, bool):
        written = cell.number_format
        before, behind = known[written] if written in known else known.setdefault(written, words_of(written))
    if of_header:
        return before, behind
    if cell.font is not None and cell.font.strike:
        behind = f"{behind} {STRUCK_OUT}".strip()
    comment = getattr(cell, "comment", None)
    if comment is not None and comment.text.strip():
        behind = f"{behind} ({' '.join(comment.text.split())[:_MOST_COMMENT]})".strip()
    return before, behind


def words_of(written: str) -> tuple[str, str]:
    """The words of a number format before and behind the number: '0" g"' gives '' and 'g'. None of a time's."""
    sections = _sections(written[:_LONGEST])
    usual = next((one for one in sections if not _conditional(one)), sections[0])
    before, behind, number = "", "", False
    for found in _TOKEN.finditer(usual):
        literal = found[1] or found[2]
        if literal is not None:
            before, behind = (before, behind + literal) if number else (before + literal, behind)
        elif found[0].casefold() in _PLACES:
            number = True
        elif found[0].casefold() in _OF_A_TIME:
            return "", ""
        elif number and found[0] == " ":
            behind += " "
    if not number or not any(map(str.isalpha, before + behind)):
        return "", ""
    return before.strip(), behind.strip()


def _conditional(section: str) -> bool:
    return bool(re.match(r"\[[<>=]", section.lstrip()))


def _sections(written: str) -> list[str]:
    """The parts of a format, by semicolons that stand in no words."""
    parts = [""]
    for found in _TOKEN.finditer(written):
        if found[0] == ";":
            parts.append("")
        else:
            parts[-1] += found[0]
    return parts
