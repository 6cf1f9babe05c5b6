"""Which rows of a table are entries: blank rows, totals and repeated headers are not."""

from dataclasses import dataclass

import polars as pl

from gramrise.intake.files import ROW, TextTable, looks_timed
from gramrise.intake.rows.quarantine import bad_rows
from gramrise.intake.words import HeaderWords, folded


@dataclass(frozen=True, slots=True)
class EntryRows:
    """`cells` of the entries; rows offered (blank ones are none), rows passed over, and rows wider than the header."""

    cells: pl.DataFrame
    offered: int
    passed_over: int
    too_wide: pl.DataFrame  # row, code, found


def entry_rows_of(table: TextTable, total_words: tuple[str, ...], words: HeaderWords) -> EntryRows:
    """The entries of a table. `total_words` are the layout's own beside those of header_words.toml."""
    none = bad_rows([])
    columns = [str(at) for at in range(table.width)]
    if not columns or table.cells.height == 0:
        return EntryRows(table.cells, 0, 0, none)
    cells = table.cells
    if cells[columns[0]].null_count() or (cells[columns[0]] == "").any():
        cells = cells.filter(pl.any_horizontal((pl.col(column).fill_null("") != "") for column in columns))
    offered = cells.height
    passed = _passed_over(table, cells, columns, total_words, words)
    if passed:
        cells = cells.filter(~pl.col(ROW).is_in(passed))
    beyond = [column for column in columns[len(table.header) :] if table.header]
    if not beyond:
        return EntryRows(cells, offered, len(passed), none)
    wide = pl.any_horizontal((pl.col(column).fill_null("").str.strip_chars() != "") for column in beyond)
    too_wide = cells.filter(wide).select(
        ROW, code=pl.lit("too_many_cells"), found=pl.concat_str(beyond, ignore_nulls=True)
    )
    return EntryRows(cells.filter(~wide) if too_wide.height else cells, offered, len(passed), too_wide)


def _passed_over(
    table: TextTable, cells: pl.DataFrame, columns: list[str], total_words: tuple[str, ...], words: HeaderWords
) -> list[int]:
    """Line numbers of totals (no time in them) and of repeated headers."""
    first = pl.coalesce(pl.when(pl.col(column) != "").then(pl.col(column)) for column in columns)
    begins_with_digit = pl.col(columns[0]).is_between(pl.lit("0"), pl.lit(":"), closed="left")
    if cells.select(begins_with_digit.all(ignore_nulls=False)).item():
        return []
    firsts = cells.select(first.str.strip_chars().alias("f"))["f"]
    totals = tuple(folded(word) for word in (*words.rows["total"], *total_words))
    header = tuple(cell for cell in map(folded, table.header) if cell)
    begins = [
        text
        for text in firsts.filter(firsts.str.contains(r"^\p{L}")).unique().to_list()
        if _is_total(text, totals) or (header and folded(text) == header[0])
    ]
    if not begins:
        return []
    passed = []
    for row, *texts in cells.filter(firsts.is_in(begins)).iter_rows():
        filled = [text for text in texts if text and text.strip()]
        again = tuple(map(folded, filled)) == header
        if again or (_is_total(filled[0], totals) and not any(looks_timed(text) for text in filled)):
            passed.append(row)
    return passed


def _is_total(text: str, totals: tuple[str, ...]) -> bool:
    word = folded(text).rstrip(":. ")
    return any(word == total or word.startswith(total + " ") for total in totals)
