"""Workbooks: the cells of each sheet as text, rows numbered as the program that made them numbers them."""

import re
from datetime import datetime, timedelta

from gramrise.intake.problems import FileRefused
from gramrise.intake.settings import IntakeSettings

_CLOCK_ONLY = re.compile(r"(?:1899-12-3[01]|1904-01-01) (\d{2}:\d{2}:\d{2})(\.\d+)?")
_MOMENT = re.compile(r"(\d{4}-\d{2}-\d{2}) (\d{2}:\d{2}:\d{2})(\.\d+)?")


def sheets_of(name: str, data: bytes, settings: IntakeSettings) -> list[tuple[str, tuple[tuple[str, ...], ...]]]:
    """Each visible sheet's name and rows, blank rows too. Formulas are never worked out: the values saved are read.

    raises  FileRefused where the workbook is broken or too large
    """
    import fastexcel

    try:
        book = fastexcel.read_excel(data)
        found = []
        for at, sheet_name in enumerate(book.sheet_names):
            sheet = book.load_sheet(at, header_row=None, skip_rows=0, dtypes="string")
            if sheet.width > settings.most_columns:
                raise FileRefused("too_many_columns", name, f"sheet '{sheet_name}' is too wide", "leave out columns")
            if sheet.visible == "visible" and sheet.height:
                columns = [_column(column.to_list()) for column in sheet.to_polars().get_columns()]
                found.append((sheet_name, tuple(zip(*columns, strict=True))))
    except fastexcel.FastExcelError as problem:
        raise FileRefused(
            "workbook_broken", name, "the workbook cannot be opened", "save it again, or as CSV"
        ) from problem
    return found


def _column(cells: list[str | None]) -> list[str]:
    """A column's cells as people see them: a time of day without its day zero, a day without its midnight."""
    texts = [_rounded((cell or "").strip()) for cell in cells]
    moments = [match for text in texts if (match := _MOMENT.fullmatch(text))]
    if moments and all(match[2] == "00:00:00" for match in moments):
        return [text[:10] if _MOMENT.fullmatch(text) else text for text in texts]
    return texts


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
