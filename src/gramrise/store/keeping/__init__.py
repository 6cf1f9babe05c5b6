"""Copies of the rows that outlive the database: a server's rows as a file, files sealed with a key, check sums.

A backup of either database is one file of SQLite's with our tables, of the newest step: it can be restored into a home
with its own file and into one whose rows are kept by a server. So moving from the one to the other is a backup and a
restore.
"""

from gramrise.store.keeping.checksums import refuse_changed, write_checksum
from gramrise.store.keeping.sealing import is_sealed, new_key, read_key, seal, unseal
from gramrise.store.keeping.server_rows import file_of_server, server_of_file

__all__ = [
    "file_of_server",
    "is_sealed",
    "new_key",
    "read_key",
    "refuse_changed",
    "seal",
    "server_of_file",
    "unseal",
    "write_checksum",
]
