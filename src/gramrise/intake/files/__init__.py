"""Bytes to tables of text, with the line on which each row stands."""

from gramrise.intake.files.blocks import NotOnePlainTable, blocks_of, head_table, is_large
from gramrise.intake.files.cell_shapes import CLOCK_ALONE, DAY_ALONE, looks_number, looks_timed
from gramrise.intake.files.delimited import Record
from gramrise.intake.files.encodings import encoding_of
from gramrise.intake.files.table_bounds import header_test
from gramrise.intake.files.tables import FileTables, tables_of, under_known_header
from gramrise.intake.files.text_table import ROW, LineText, TextTable, cells_of
from gramrise.intake.files.unpacking import FileMember, needs_own_process, unpack

__all__ = [
    "CLOCK_ALONE",
    "DAY_ALONE",
    "ROW",
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
    "is_large",
    "looks_number",
    "looks_timed",
    "needs_own_process",
    "tables_of",
    "under_known_header",
    "unpack",
]
