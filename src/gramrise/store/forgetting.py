"""Taking a person out of the database and out of its copies in the home.

It begins with a note in the same transaction that deletes the rows, and ends by removing the note: a command that was
killed between the two can be run again, although nobody of that id is known any more.
"""

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, delete, insert, select

from gramrise.domain.problems import CouldNotRun
from gramrise.store import schema
from gramrise.store.backup import COLLECTED, GROWING, UNSEALED
from gramrise.store.database import DATABASE_FILE
from gramrise.store.keeping.checksums import has_checksum, write_checksum
from gramrise.store.persons import known_person
from gramrise.store.restoring import COPIED
from gramrise.store.troubles import explained

NOTE: Final = "forgetting"
COPIES: Final = (f"{DATABASE_FILE}.before-restore-*", "backups/*.db")
UNFINISHED: Final = (f"{COPIED}*", f"{COLLECTED}*", f"{UNSEALED}*", f"*{GROWING}", f"backups/*{GROWING}")
SIDES: Final = ("-wal", "-shm", "-journal")


def begin(connection: Connection, person_id: str) -> None:
    """Deletes the rows and notes whose files are to follow. Raises WrongUse for an id neither known nor noted."""
    noted = unfinished(connection)
    if person_id not in noted:
        known_person(connection, person_id)
    for table in (*schema.OF_A_PERSON, schema.persons):
        connection.execute(table.delete().where(table.c.person_id == person_id))
    _note(connection, sorted({*noted, person_id}))


def end(connection: Connection, person_id: str) -> None:
    """Removes the note. The caller empties the write-ahead log after it, which still holds the id."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA secure_delete=ON")
    _note(connection, [each for each in unfinished(connection) if each != person_id])


def unfinished(connection: Connection) -> list[str]:
    """Ids whose rows are gone while files of theirs may be left: the command was cut off."""
    chosen = select(schema.service.c.value).where(schema.service.c.key == NOTE)
    text = connection.execute(chosen).scalar_one_or_none()
    return [] if text is None else list(json.loads(text))


def _note(connection: Connection, ids: list[str]) -> None:
    connection.execute(delete(schema.service).where(schema.service.c.key == NOTE))
    if ids:
        connection.execute(insert(schema.service).values(key=NOTE, value=json.dumps(ids)))


def copies(home: Path) -> list[Path]:
    """The copies of the database that gramrise itself left in a home, in order of name."""
    found = [file for pattern in COPIES for file in home.glob(pattern)]
    return sorted(file for file in found if not file.name.endswith((*SIDES, GROWING)))


def remove_unfinished_copies(home: Path) -> None:
    """Deletes copies that were cut off while they grew: nobody can use them, and they hold everybody."""
    for pattern in UNFINISHED:
        for file in home.glob(pattern):
            if not file.name.startswith("."):
                file.unlink(missing_ok=True)


def erase_from_copy(copy: Path, person_id: str) -> bool:
    """Takes a person out of one copy, of whatever step; whether they were in it. Raises CouldNotRun for a damaged one.

    The bytes go too: the copy is rewritten without what was deleted.
    """
    with explained(copy), closing(sqlite3.connect(copy, isolation_level=None)) as opened:
        tables = [name for (name,) in opened.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        if "persons" not in tables:
            raise CouldNotRun(f"{copy.name} is no copy of a database of ours", "look at it, and delete it yourself")
        opened.execute("PRAGMA foreign_keys=OFF")
        opened.execute("BEGIN IMMEDIATE")
        deleted = 0
        for table in tables:
            columns = {row[1] for row in opened.execute(f'PRAGMA table_info("{table}")')}
            if "person_id" in columns:
                deleted += opened.execute(f'DELETE FROM "{table}" WHERE person_id = ?', (person_id,)).rowcount
        opened.execute("COMMIT")
        # Also where nothing was deleted now: a run that was cut off may have deleted the rows and left their bytes.
        opened.execute("VACUUM")
        opened.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    if has_checksum(copy):  # of the copy as it was
        write_checksum(copy, copy)
    return deleted > 0
