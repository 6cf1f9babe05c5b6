"""Batches of a large plain table, block by block."""

import hashlib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from gramrise.connectors.layout import Layout
from gramrise.domain.batch import Batch, Quarantined
from gramrise.domain.printable import printable
from gramrise.intake.context import ReadContext
from gramrise.intake.files import NotOnePlainTable, Record, TextTable, blocks_of, head_table, header_test
from gramrise.intake.later_blocks import LaterBlocks
from gramrise.intake.layouts import contradicted_rows, without_rows
from gramrise.intake.problems import FileRefused
from gramrise.intake.rows import batch_of, read_table, times_outside


def large_batches(
    path: Path, context: ReadContext, layouts: tuple[Layout, ...], layout_name: str | None
) -> Iterator[Batch]:
    """The batches of one large table. Raises NotOnePlainTable before or within it, FileWaits, FileRefused."""
    first = head_table(path, layouts, context, layout_name)
    is_header = header_test(tuple(one.recognised_by.header for one in layouts), context.words)
    judged: LaterBlocks | None = None
    names: set[str] = set()
    before_utc, troubles = None, Counter[str]()
    for block in blocks_of(path, first, context.settings):
        table = block.table
        if judged is None:
            if not table.cells.height:
                raise NotOnePlainTable(printable(path.name))  # no line of it can be cut: nothing proves a layout
            judged = LaterBlocks(table, layouts, layout_name, context)
        layout = judged.layout_for(table)
        names |= _persons(table, layout)
        if len(names) > 1:
            raise NotOnePlainTable(printable(path.name))
        bad = contradicted_rows(table, layout, context)
        taken = read_table(without_rows(table, bad), layout, context, before_utc, [*block.bad, *bad])
        before_utc = taken.last_utc
        if any(is_header(_cut_again(one, first)) for one in taken.quarantine if one.trouble.code == "not_a_time"):
            raise NotOnePlainTable(printable(path.name))
        if taken.quarantine:
            judged.check(table)
        troubles.update(one.trouble.code for one in taken.quarantine)
        _check_troubles(troubles, printable(path.name), context)
        yield batch_of(taken, table.file, layout, context, hashlib.sha256(block.data).hexdigest())
    if judged is None:
        raise NotOnePlainTable(printable(path.name))  # a header and nothing below it


def _check_troubles(troubles: Counter[str], file: str, context: ReadContext) -> None:
    """Raises FileWaits, FileRefused where more rows are bad than can be named. `troubles`: their codes so far."""
    if troubles.total() <= context.settings.most_troubles_named:
        return
    outside = troubles["time_out_of_range"]
    if 2 * outside > troubles.total():
        raise times_outside(file, outside, None)
    raise FileRefused("too_many_troubles", file, f"{troubles.total()} rows cannot be read", "look at its layout")


def _persons(table: TextTable, layout: Layout) -> set[str]:
    column = table.column(layout.person_column) if layout.person_column else None
    return set(table.cells[column].drop_nulls().str.strip_chars().unique().to_list()) - {""} if column else set()


def _cut_again(bad: Quarantined, table: TextTable) -> Record:
    return Record(0, tuple(bad.text.split(table.delimiter)))
