"""Workbooks: the cells of each sheet as text, rows numbered as the program that made them numbers them."""

import re
from datetime import datetime, timedelta

from gramrise.intake.files.shown_units import Shown, has_comments, may_show_words, shown_around
from gramrise.intake.files.text_table import check_count_of_tables
from gramrise.intake.problems import FileRefused
from gramrise.intake.settings import IntakeSettings

_CLOCK_ONLY = re.compile(r"(?:1899-12-3[01]|1904-01-01) (\d{2}:\d{2}:\d{2})(\.\d+)?")
_CELL = re.compile(rb'<(?:\w{1,20}:)?c\b[^>]{0,99}?\br="([A-Z]{1,3})(\d{1,7})"')
_SHARED_CELL = re.compile(rb'<c\b[^>]{0,99}?\bt="s"[^>]{0,99}>\s{0,9}<v>(\d{1,9})</v>')
_MOMENT = re.compile(r"(\d{4}-\d{2}-\d{2}) (\d{2}:\d{2}:\d{2})(\.\d+)?")


def sheets_of(
    name: str, data: bytes, parts: dict[str, bytes], settings: IntakeSettings
) -> list[tuple[str, tuple[tuple[str, ...], ...] | None]]:
    """Each sheet's name and rows, blank rows too; None for a hidden one. Formulas are not worked out: values are read.

    parts   the members of the archive that a workbook is
    raises  FileRefused where the workbook is broken or too large
    """
    import fastexcel

    _check_sizes(name, parts, settings)
    worded, comments = may_show_words(parts), has_comments(parts)
    try:
        book = fastexcel.read_excel(data)
        # Before any is read: one sheet may be named 20,000 times.
        check_count_of_tables(len(book.sheet_names), name, settings)
        found: list[tuple[str, tuple[tuple[str, ...], ...] | None]] = []
        for at, sheet_name in enumerate(book.sheet_names):
            sheet = book.load_sheet(at, header_row=None, skip_rows=0, dtypes="string")
            if sheet.width > settings.most_columns:
                raise FileRefused("too_many_columns", name, f"sheet '{sheet_name}' is too wide", "leave out columns")
            if sheet.visible != "visible" and sheet.height:
                found.append((sheet_name, None))
            elif sheet.height:
                columns = [_column(column.to_list()) for column in sheet.to_polars().get_columns()]
                _show_units(columns, _shown_around(name, data, sheet_name, comments) if worded else {})
                found.append((sheet_name, tuple(zip(*columns, strict=True))))
    except fastexcel.FastExcelError as problem:
        raise FileRefused(
            "workbook_broken", name, "the workbook cannot be opened", "save it again, or as CSV"
        ) from problem
    return found


def _check_sizes(name: str, parts: dict[str, bytes], settings: IntakeSettings) -> None:
    """Refuses, before any cell is made, sheets whose cells span or whose texts fill more than any table of entries.

    Cells are found by their names as every program writes them; for other spellings the reading process has its limits.
    """
    strings = [len(one) for one in parts.get("xl/sharedStrings.xml", b"").split(b"</si>")]
    for part, content in parts.items():
        if not part.startswith("xl/worksheets/"):
            continue
        columns = rows = 1
        before = (0, 0)
        for letters, number in _CELL.findall(content):
            here = (int(number), _column_number(letters))
            # Of two cells with one name only one would be read. Programs write them rising; common practice, no source.
            if here <= before:
                what = f"its cells are out of order at {letters.decode()}{here[0]}"
                raise FileRefused("workbook_broken", name, what, "save it again, or as CSV")
            before = here
            columns, rows = max(columns, here[1]), max(rows, here[0])
        if columns > settings.most_columns:
            raise FileRefused("too_many_columns", name, f"a sheet has {columns} columns", "leave out columns")
        if columns * rows > settings.most_workbook_cells:
            what = f"a sheet spans {columns} columns and {rows} rows"
            raise FileRefused("too_many_cells", name, what, "delete the cells far below or beside the table")
        texts = (strings[at] for one in _SHARED_CELL.findall(content) if (at := int(one)) < len(strings))
        if sum(texts) > settings.most_small_file_bytes:
            raise FileRefused("unpacks_too_large", name, "its texts repeated are too long", "save it as CSV")


def _column_number(letters: bytes) -> int:
    """'A' is 1, 'XFD' is 16384."""
    number = 0
    for letter in letters:
        number = 26 * number + letter - ord("A") + 1
    return number


def _column(cells: list[str | None]) -> list[str]:
    """A column's cells as people see them: a time of day without its day zero, a day without its midnight."""
    texts = [_rounded((cell or "").strip()) for cell in cells]
    moments = [match for text in texts if (match := _MOMENT.fullmatch(text))]
    if moments and all(match[2] == "00:00:00" for match in moments):
        return [text[:10] if _MOMENT.fullmatch(text) else text for text in texts]
    return texts


def _shown_around(name: str, data: bytes, sheet_name: str, comments: bool) -> Shown:
    try:
        return shown_around(data, sheet_name, comments)
    except MemoryError:
        raise
    except Exception as problem:  # of a library, about a file that may hold anything
        raise FileRefused(
            "workbook_broken", name, "the workbook cannot be opened", "save it again, or as CSV"
        ) from problem


def _show_units(columns: list[list[str]], around: Shown) -> None:
    """Writes beside each cell the words that its format or a comment shows there: the value alone does not say all."""
    for (row, column), (before, behind) in around.items():
        if column < len(columns) and row < len(columns[column]) and columns[column][row]:
            columns[column][row] = f"{before} {columns[column][row]} {behind}".strip()


def _rounded(text: str) -> str:
    """A time rounded to the second: sheets keep times as fractions of a day."""
    clock = _CLOCK_ONLY.fullmatch(text)
    if clock is not None:
        return _to_second(f"2000-01-01 {clock[1]}", clock[2])[11:]
    moment = _MOMENT.fullmatch(text)
    return _to_second(f"{moment[1]} {moment[2]}", moment[3]) if moment is not None else text


def _to_second(text: str, fraction: str | None) -> str:
    at = datetime.strptime(text, "%Y-%m-%d %H:%M:%S")  # noqa: DTZ007 - a wall-clock value
    return f"{at + timedelta(seconds=round(float(fraction or 0))):%Y-%m-%d %H:%M:%S}"
