"""Bytes to tables of text, with the line on which each row stands."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.intake.files.blocks import NotOnePlainTable, blocks_of, head_table, is_large
    from gramrise.intake.files.cell_shapes import CLOCK_ALONE, DAY_ALONE, looks_number, looks_timed
    from gramrise.intake.files.delimited import Record
    from gramrise.intake.files.encodings import encoding_of
    from gramrise.intake.files.table_bounds import header_test
    from gramrise.intake.files.tables import FileTables, tables_of, under_known_header
    from gramrise.intake.files.text_table import LINES_ABOVE, ROW, BlockText, LineText, TextTable, cells_of, is_empty
    from gramrise.intake.files.unpacking import FileMember, needs_own_process, unpack

__all__ = [
    "CLOCK_ALONE",
    "DAY_ALONE",
    "LINES_ABOVE",
    "ROW",
    "BlockText",
    "FileMember",
    "FileTables",
    "LineText",
    "NotOnePlainTable",
    "Record",
    "TextTable",
    "blocks_of",
    "cells_of",
    "encoding_of",
    "head_table",
    "header_test",
    "is_empty",
    "is_large",
    "looks_number",
    "looks_timed",
    "needs_own_process",
    "tables_of",
    "under_known_header",
    "unpack",
]

_HOMES = {
    "BlockText": "gramrise.intake.files.text_table",
    "CLOCK_ALONE": "gramrise.intake.files.cell_shapes",
    "DAY_ALONE": "gramrise.intake.files.cell_shapes",
    "FileMember": "gramrise.intake.files.unpacking",
    "FileTables": "gramrise.intake.files.tables",
    "LINES_ABOVE": "gramrise.intake.files.text_table",
    "LineText": "gramrise.intake.files.text_table",
    "NotOnePlainTable": "gramrise.intake.files.blocks",
    "ROW": "gramrise.intake.files.text_table",
    "Record": "gramrise.intake.files.delimited",
    "TextTable": "gramrise.intake.files.text_table",
    "blocks_of": "gramrise.intake.files.blocks",
    "cells_of": "gramrise.intake.files.text_table",
    "encoding_of": "gramrise.intake.files.encodings",
    "head_table": "gramrise.intake.files.blocks",
    "header_test": "gramrise.intake.files.table_bounds",
    "is_empty": "gramrise.intake.files.text_table",
    "is_large": "gramrise.intake.files.blocks",
    "looks_number": "gramrise.intake.files.cell_shapes",
    "looks_timed": "gramrise.intake.files.cell_shapes",
    "needs_own_process": "gramrise.intake.files.unpacking",
    "tables_of": "gramrise.intake.files.tables",
    "under_known_header": "gramrise.intake.files.tables",
    "unpack": "gramrise.intake.files.unpacking",
}


def __getattr__(name: str) -> Any:
    """Loads a part when it is first asked for: an amount that is typed in needs no file."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(_HOMES[name]), name)
