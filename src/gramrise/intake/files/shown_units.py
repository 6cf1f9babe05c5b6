"""What a sheet shows around its numbers: a format '0" g"' makes '4 g' of a cell whose value is 4."""

import io
import re
from typing import Final

# A format whose words stand in quotation marks, or behind a backslash, as the file writes it.
_WORDED: Final = re.compile(rb'formatCode="[^"]{0,255}(?:&quot;|\\)', re.IGNORECASE)
_TOKEN: Final = re.compile(r'"([^"]{0,255})"|\\(.)|\[[^\]]{0,99}\]|[_*].|General|.', re.IGNORECASE | re.DOTALL)
_LONGEST: Final = 255  # letters of a format; the limit of the programs that write them
_PLACES: Final = frozenset({"0", "#", "?", "general"})
_OF_A_TIME: Final = frozenset("dmyhs")

Shown = dict[tuple[int, int], tuple[str, str]]


def may_show_words(styles: bytes) -> bool:
    """Whether a workbook's styles have a number format with words of its own: only then its cells need a look."""
    return _WORDED.search(styles) is not None


def shown_around(data: bytes, sheet_name: str) -> Shown:
    """By row from 0 and column from the first that is filled: the words before and behind each such number."""
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    try:
        found: Shown = {}
        known: dict[str, tuple[str, str]] = {}
        first = None
        for cells in book[sheet_name].iter_rows():
            for cell in cells:
                if cell.value is None:
                    continue
                first = cell.column if first is None else min(first, cell.column)
                if isinstance(cell.value, bool) or not isinstance(cell.value, int | float):
                    continue
                written = cell.number_format
                around = known[written] if written in known else known.setdefault(written, words_of(written))
                if around != ("", ""):
                    found[cell.row - 1, cell.column] = around
    finally:
        book.close()
    return {(row, column - (first or 0)): around for (row, column), around in found.items()}


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
