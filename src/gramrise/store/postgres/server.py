"""The engine of a PostgreSQL database."""

import logging
import math
import time
from collections.abc import Collection
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, exc, text

from gramrise.domain.problems import CouldNotRun, WrongUse

# Our choice: a server on the same network answers within a second; ten are a server that is not there.
CONNECT_SECONDS: Final = 10
# Our choice: within a pass connections are used again at once, and a question more for each transaction doubled the
# answers waited for; the page's may lie for hours, in which a server was started anew.
PROVED_SECONDS: Final = 5.0
# A text of PostgreSQL's holds no NUL. One that a damaged file brought is kept as the picture of a NUL (U+2400).
PICTURE_OF_NUL: Final = "\N{SYMBOL FOR NULL}"
# A file is moved to done/ once its rows are committed: a server set to forget commits in a crash would lose them.
COMMITS_LAST: Final = (
    "SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') = 'off'"
)


def engine_of_server(url: str, wait_seconds: float) -> Engine:
    """An engine on a server's database. A connection that lay idle is proved before it is used.

    wait_seconds  how long a writer waits for those before it
    raises        CouldNotRun where the driver is not installed, WrongUse where the address cannot be read
    """
    # It warns of a pipeline that a refused statement ended; what was refused is told in our own words.
    logging.getLogger("psycopg").setLevel(logging.ERROR)
    try:
        engine = create_engine(
            url,
            hide_parameters=True,
            connect_args={"connect_timeout": CONNECT_SECONDS, "application_name": "gramrise"},
        )
    except ModuleNotFoundError as absent:
        raise CouldNotRun(
            "the driver for PostgreSQL is not installed",
            "pip install 'gramrise[postgres]'",
            "driver_missing",
        ) from absent
    except (exc.ArgumentError, ValueError) as slip:
        raise WrongUse(
            "the address of the database cannot be read",
            'write database = "postgresql+psycopg://USER@HOST:PORT/NAME" in gramrise.toml',
        ) from slip

    @event.listens_for(engine, "connect")
    def _connected(driver: Any, _record: object) -> None:
        _register_texts(driver)
        driver.autocommit = True
        driver.execute(f"SET lock_timeout = '{wait_seconds:.0f}s'; SET timezone = 'UTC'; {COMMITS_LAST}")
        driver.autocommit = False

    @event.listens_for(engine, "checkin")
    def _given_back(_driver: Any, record: Any) -> None:
        record.info["given_back"] = time.monotonic()

    @event.listens_for(engine, "checkout")
    def _taken(driver: Any, record: Any, _proxy: object) -> None:
        if time.monotonic() - record.info.get("given_back", math.inf) > PROVED_SECONDS:
            _prove(driver)

    return engine


def _prove(driver: Any) -> None:
    """Raises DisconnectionError, upon which the pool makes a new connection, where the server is gone."""
    import psycopg

    try:
        driver.execute("SELECT 1")
        driver.rollback()
    except psycopg.Error as gone:
        raise exc.DisconnectionError from gone


def _register_texts(driver: Any) -> None:
    from psycopg.types.string import StrDumper, StrDumperUnknown

    class WithoutNul(StrDumper):
        def dump(self, obj: str) -> Any:
            return super().dump(obj.replace("\0", PICTURE_OF_NUL) if "\0" in obj else obj)

    class WithoutNulUnknown(StrDumperUnknown):
        def dump(self, obj: str) -> Any:
            return super().dump(obj.replace("\0", PICTURE_OF_NUL) if "\0" in obj else obj)

    driver.adapters.register_dumper(str, WithoutNul)
    driver.adapters.register_dumper(str, WithoutNulUnknown)


def order_like_sqlite(connection: Connection, ours: Collection[str]) -> None:
    """Gives every text column the collation C: rows come in the order of their bytes, as on SQLite, on any server.

    Findings must not depend on the server's language. Only columns that have another are touched, of our tables only.
    """
    other = connection.execute(
        text(
            "SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = current_schema()"
            " AND data_type = 'text' AND collation_name IS DISTINCT FROM 'C' ORDER BY 1, 2"
        )
    ).all()
    tables: dict[str, list[str]] = {}
    for table, column in other:
        if table in ours:
            tables.setdefault(table, []).append(column)
    for table, columns in tables.items():
        changes = ", ".join(f'ALTER COLUMN "{column}" TYPE text COLLATE "C"' for column in columns)
        connection.execute(text(f'ALTER TABLE "{table}" {changes}'))


def columns_of_server(connection: Connection) -> dict[str, set[str]]:
    """The names of each table's columns, in one question."""
    asked = "SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = current_schema()"
    found: dict[str, set[str]] = {}
    for table, column in connection.execute(text(asked)):
        found.setdefault(table, set()).add(column)
    return found
