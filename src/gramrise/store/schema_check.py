"""Whether the tables of a database file are those its step has: a migration cut in two, a change by hand."""

import sqlite3
from contextlib import closing
from pathlib import Path

from gramrise.store.schema import METADATA
from gramrise.store.troubles import explained, other_tables


def refuse_other_tables(path: Path) -> None:
    """Raises CouldNotRun (code schema_damaged) naming the first table that differs. For the newest step only."""
    with explained(path), closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as probe:
        for table in METADATA.sorted_tables:
            found = {row[1]: bool(row[5]) for row in probe.execute(f'PRAGMA table_info("{table.name}")')}
            if not found:
                raise other_tables(path.name, f"table {table.name} is missing")
            wanted = {column.name: column.primary_key for column in table.columns}
            if found != wanted:
                odd = sorted(name for name in {*found, *wanted} if found.get(name) != wanted.get(name))
                raise other_tables(path.name, f"table {table.name} differs in {', '.join(odd)}")
            indexes = {row[1] for row in probe.execute(f'PRAGMA index_list("{table.name}")')}
            absent = sorted(str(index.name) for index in table.indexes if index.name not in indexes)
            if absent:
                raise other_tables(path.name, f"table {table.name} lacks {', '.join(absent)}")
