"""Rows in = rows landed + set aside + passed over: counted anew for every table before anything of it is handed on."""

import polars as pl

from gramrise.domain.batch import Batch
from gramrise.intake.files import ROW, TextTable
from gramrise.intake.problems import FileRefused
from gramrise.intake.rows.taken_rows import TakenRows


def check_rows(table: TextTable, bad_lines: int, used: pl.Series, taken: TakenRows) -> None:
    """Raises FileRefused where a row of the table is told nowhere, or told twice.

    bad_lines  lines beside the table that are set aside with its rows
    used       line numbers of the rows of which some kind took a value or set one aside
    """
    offered = _filled_rows(table) + bad_lines
    set_aside = pl.Series(ROW, sorted({one.trouble.row or 0 for one in taken.quarantine}), dtype=pl.Int64)
    landed = used.len() - int(used.is_in(set_aside.implode()).sum())
    told = landed + set_aside.len() + taken.rows_passed_over
    if offered != taken.rows_offered or told != offered:
        raise _unaccounted(table.file, f"of {offered} rows {told} are accounted for")
    values = sum(frame.height for frame in (taken.readings, taken.fingers, taken.doses, taken.events, taken.weights))
    if values + taken.rows_repeated < landed:
        raise _unaccounted(table.file, f"{landed} rows gave {values} values, and {taken.rows_repeated} repeat others")


def check_told(file: str, beside: list[tuple[int, str, str]], batches: list[Batch]) -> None:
    """Raises FileRefused where a line that no table could take, (row, code, text), is set aside by none of the batches.

    A file without a batch waits as a whole.
    """
    told = {held.trouble.row for batch in batches for held in batch.quarantine}
    lost = [row for row, _, _ in beside if row not in told]
    if batches and lost:
        raise _unaccounted(file, f"{len(lost)} of its lines are told nowhere, the first of them row {lost[0]}")


def _filled_rows(table: TextTable) -> int:
    cells = table.cells.drop(ROW)
    if not cells.width or not cells.height:
        return 0
    return int(cells.select(pl.any_horizontal(pl.all().fill_null("") != "").sum()).item())


def _unaccounted(file: str, what: str) -> FileRefused:
    return FileRefused("rows_unaccounted", file, what, "report this sentence; nothing of the file was taken in")
