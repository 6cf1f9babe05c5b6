"""Opening the database: file rights, one writer at a time, migrations, and a clear word when it cannot be used."""

import os
import sqlite3
from collections.abc import Sequence
from contextlib import closing, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, exc, text

from gramrise.config.settings import database_url
from gramrise.domain.problems import CouldNotRun, refused_by_disk
from gramrise.store import troubles
from gramrise.store.postgres import engine_of_server
from gramrise.store.postgres.locks import queue
from gramrise.store.postgres.server import columns_of_server, order_like_sqlite
from gramrise.store.schema import METADATA
from gramrise.store.troubles import explained

DATABASE_FILE: Final = "gramrise.db"
MIGRATIONS: Final = Path(__file__).parent / "migrations"
# The newest step in `migrations/versions`; a test holds it to the files, so that opening need not load alembic.
NEWEST_STEP: Final = "0017"
# Our choice: an import of a year's file holds the database for seconds; a minute of waiting means something is stuck.
WAIT_FOR_LOCK_SECONDS: Final = 60.0
ONLY_OWNER_FILE: Final = 0o600
ONLY_OWNER_FOLDER: Final = 0o700


def make_home(home: Path) -> None:
    """The home folder, readable by its owner only when we make it. Raises CouldNotRun where that is not allowed."""
    try:
        if not home.is_dir():
            home.mkdir(parents=True, mode=ONLY_OWNER_FOLDER)
            home.chmod(ONLY_OWNER_FOLDER)  # whatever the umask
        for opened in os.scandir(home):  # a home that can be entered but not read is no home
            opened.is_file()
            break
    except OSError as problem:
        known = refused_by_disk(problem)
        if known is not None:
            raise known from problem
        raise CouldNotRun(
            f"the home folder {home} cannot be read or made: {problem.strerror}",
            "give its owner the right to read and write it, or name another with --home",
            "home_unreadable",
        ) from problem


def make_file(path: Path) -> None:
    """An empty file only its owner can read, if there is none; SQLite gives its side files the same rights.

    One that is there is never opened by us: a process that closes any descriptor of a file loses all its POSIX locks
    on it, those of SQLite's open connections among them. The next program to close the database would then think that
    it was the last, and take the log away under them (sqlite.org/howtocorrupt.html, 2.2).
    """
    try:
        with suppress(FileExistsError):
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, ONLY_OWNER_FILE))
        path.chmod(ONLY_OWNER_FILE)
    except OSError as problem:
        mend = "let the user who runs gramrise own the home folder and its files"
        raise troubles.file_refused(problem, path, mend) from problem


@lru_cache(maxsize=16)
def engine_for(url: str) -> Engine:
    """An engine whose writers queue up: SQLite's default lets two that read before they write refuse each other.

    Kept for the next store on the same database, with its compiled statements; a closed store leaves no connection.
    """
    if not url.startswith("sqlite"):
        return engine_of_server(url, WAIT_FOR_LOCK_SECONDS)
    engine = create_engine(url, hide_parameters=True)

    @event.listens_for(engine, "connect")
    def _connected(driver: Any, _record: object) -> None:
        driver.isolation_level = None  # the driver begins nothing by itself
        wait = f"busy_timeout={WAIT_FOR_LOCK_SECONDS * 1000:.0f}"
        for pragma in (wait, "journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            driver.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begun(connection: Connection) -> None:
        only_reads = connection.get_execution_options().get("only_reads", False)
        connection.exec_driver_sql("BEGIN" if only_reads else "BEGIN IMMEDIATE")

    return engine


def step_of(connection: Connection) -> str | None:
    """The migration the database stands at; None for an empty one."""
    if connection.dialect.name != "sqlite" and not _has_version(connection):
        return None  # asked first: a question that fails ends a transaction of PostgreSQL's
    try:
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalars().all()
    except (exc.OperationalError, exc.ProgrammingError) as problem:
        if _has_no_tables(str(problem.orig)):
            return None
        raise
    return _only_step(found, DATABASE_FILE)


def step_of_file(path: Path) -> str | None:
    """The migration a database file stands at, found without opening a store on it.

    raises CouldNotRun when it cannot be read: damaged, or the disk is full or does not answer
    """
    with explained(path), closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as probe:
        try:
            found = probe.execute("SELECT version_num FROM alembic_version").fetchall()
        except sqlite3.OperationalError as problem:
            if _has_no_tables(str(problem)):
                return None
            raise
    return _only_step([row[0] for row in found], path.name)


def step_on_server(url: str) -> str | None:
    """The migration a server's database stands at, found without opening a store on it; its tables are compared.

    raises CouldNotRun when the server does not answer, or when tables of the newest step are others than ours
    """
    engine = engine_for(url)
    try:
        with explained(Path(engine.url.database or DATABASE_FILE)), engine.connect() as connection:
            step = step_of(connection)
            if step == NEWEST_STEP:
                _refuse_others(connection, engine.url.database or "")
            return step
    finally:
        engine.dispose()


def standing_step(home: Path) -> str | None:
    """The migration a home's database stands at, wherever its rows are kept. Raises CouldNotRun."""
    url = database_url(home)
    return step_of_file(home / DATABASE_FILE) if url is None else step_on_server(url)


def _refuse_others(connection: Connection, name: str) -> None:
    """Raises CouldNotRun (code schema_damaged) naming the first table whose columns differ."""
    found = columns_of_server(connection)
    for table in METADATA.sorted_tables:
        if table.name not in found:
            raise troubles.other_tables(name, f"table {table.name} is missing")
        odd = sorted(found[table.name] ^ {column.name for column in table.columns})
        if odd:
            raise troubles.other_tables(name, f"table {table.name} differs in {', '.join(odd)}")


def _has_no_tables(said: str) -> bool:
    return "no such table" in said or "does not exist" in said


def _only_step(found: Sequence[Any], name: str) -> str | None:
    if len(found) > 1:
        raise troubles.other_tables(name, "it says of itself that it stands at several steps")
    return str(found[0]) if found else None


def to_newest(engine: Engine) -> None:
    """Runs the migrations that are missing, all in one transaction, with foreign keys off while tables are rebuilt.

    raises CouldNotRun (code schema_newer) when a newer gramrise wrote the database
    """
    import alembic.command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    sqlite = engine.dialect.name == "sqlite"
    with engine.connect() as connection:
        if sqlite:  # a pragma is deaf inside a transaction, so it goes before the first
            connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        try:
            with connection.begin():
                queue(connection, None)
                standing = step_of(connection) if _has_version(connection) else None
                if standing is not None and standing not in known:
                    raise CouldNotRun(
                        f"the database was written by a newer gramrise (step {standing}, this one knows {NEWEST_STEP})",
                        "install the newer gramrise, or restore a backup from before",
                        "schema_newer",
                    )
                config.attributes["connection"] = connection
                alembic.command.upgrade(config, "head")
                if not sqlite:
                    order_like_sqlite(connection, METADATA.tables)
                if sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                    raise CouldNotRun(
                        "the migration would leave rows without their person; nothing was changed",
                        troubles.RESTORE,
                        "database_damaged",
                    )
        finally:
            if sqlite:
                connection.connection.driver_connection.execute("PRAGMA foreign_keys=ON")  # type: ignore[union-attr]


def _has_version(connection: Connection) -> bool:
    return connection.dialect.has_table(connection, "alembic_version")


def refuse_damaged(path: Path, *, whole: bool = False) -> None:
    """Raises CouldNotRun when the file is no sound SQLite database. Reads only; touches nothing.

    whole   also compare every index with its table, as a copy is checked
    """
    if not path.exists() or path.stat().st_size == 0:
        return
    with explained(path), closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as probe:
        verdict = probe.execute(f"PRAGMA {'integrity' if whole else 'quick'}_check(1)").fetchone()[0]
    if verdict != "ok":
        raise troubles.damaged(path.name, verdict)


def vacuum(engine: Engine) -> None:
    """Rewrites the file without what was deleted from it."""
    if engine.dialect.name == "sqlite":
        with engine.connect() as connection:
            driver: Any = connection.connection.driver_connection
            driver.execute("VACUUM")
    empty_log(engine)


def empty_log(engine: Engine) -> None:
    """Writes what the write-ahead log holds into the file and empties the log."""
    if engine.dialect.name == "sqlite":
        with engine.connect() as connection:
            driver: Any = connection.connection.driver_connection
            driver.execute("PRAGMA wal_checkpoint(TRUNCATE)")
