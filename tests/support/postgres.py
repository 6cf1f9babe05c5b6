"""A private PostgreSQL server for the tests: made in a folder of its own, reached by a socket, gone with the session.

Server programs refuse to run as root, so there they are run as `nobody`. Without them the tests that need a server are
skipped, and say so.
"""

import os
import secrets
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

PLACES: Final = ("/usr/lib/postgresql", "/usr/local/pgsql", "/opt/homebrew/opt")
# What a crash of the machine would cost is not tested here: without these, each commit waits for the disk. Commits that
# were told must be there after a crash of the server, whatever it says: `synchronous_commit` is off to try that.
QUICK: Final = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=60"
USER: Final = "gram"


def programs() -> Path | None:
    """The folder of initdb and pg_ctl, the newest there is; None without them."""
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).resolve().parent
    found = [tool for place in PLACES for tool in Path(place).glob("*/bin/initdb")]
    return max(found, key=lambda tool: float(tool.parent.parent.name)).parent if found else None


def database_of(url: str) -> str:
    """The name of the database that a URL names."""
    return url.split("/")[3].partition("?")[0]


@dataclass(frozen=True)
class Server:
    """A running server. `url()` names a database of it."""

    bin: Path
    folder: Path
    options: str = QUICK

    def url(self, database: str = "postgres", user: str = USER) -> str:
        return f"postgresql+psycopg://{user}@/{database}?host={self.folder}"

    def start(self) -> None:
        told = f"-k {self.folder} -c listen_addresses='' {self.options}"
        self._run("pg_ctl", "-D", f"{self.folder}/data", "-w", "-l", f"{self.folder}/log", "-o", told, "start")

    def stop(self, mode: str = "immediate") -> None:
        self._run("pg_ctl", "-D", f"{self.folder}/data", "-m", mode, "-w", "stop")

    def sql(self, statement: str, database: str = "postgres") -> str:
        """Runs SQL as the server's administrator; what psql prints, bare."""
        done = self._run("psql", "-h", str(self.folder), "-U", USER, "-d", database, "-qAtc", statement)
        return done.stdout.strip()

    def new_database(self, like: str = "template1") -> str:
        """The URL of a database nobody else uses."""
        name = f"t{secrets.token_hex(6)}"
        self.sql(f'CREATE DATABASE "{name}" TEMPLATE "{like}"')
        return self.url(name)

    def drop(self, url: str) -> None:
        name = database_of(url)
        self.sql(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')

    def empty(self, url: str) -> None:
        """Takes every row out of a database and sets its counters back, as the administrator: no trigger is asked."""
        import psycopg

        with psycopg.connect(url.replace("+psycopg", ""), autocommit=True) as connection:
            others = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database()"
            connection.execute(f"{others} AND pid <> pg_backend_pid()")
            connection.execute("SET session_replication_role = replica")
            named = "SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version'"
            tables = [name for (name,) in connection.execute(named)]
            counters = [name for (name,) in connection.execute("SELECT sequencename FROM pg_sequences")]
            connection.execute(";".join(f'DELETE FROM "{name}"' for name in tables))
            connection.execute(";".join(f"SELECT setval('{name}', 1, false)" for name in counters))

    def _run(self, program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        as_other = ["runuser", "-u", "nobody", "--"] if os.getuid() == 0 else []
        command = [*as_other, str(self.bin / program), *arguments]
        # pg_ctl's server keeps what it is given open: it gets a file, not a pipe that would never end.
        with tempfile.TemporaryFile("w+") as told:
            done = subprocess.run(command, stdout=told, stderr=subprocess.STDOUT, check=False, cwd="/", timeout=120)
            told.seek(0)
            done.stdout = told.read()
        if done.returncode:
            raise RuntimeError(f"{program}: {done.stdout}")
        return done


@contextmanager
def running_server(options: str = QUICK) -> Iterator[Server]:
    """A server of its own, in the order of a language that is not that of bytes, where the machine has one."""
    bin_folder = programs()
    assert bin_folder is not None
    folder = Path(tempfile.mkdtemp(prefix="gram-pg-"))
    folder.chmod(0o755)
    if os.getuid() == 0:
        shutil.chown(folder, "nobody")
    server = Server(bin_folder, folder, options)
    try:
        initdb = ["-D", f"{folder}/data", "-U", USER, "-A", "trust", "-E", "UTF8", "-N", "--no-instructions"]
        # The order of words of English, as most servers have it: what is tested must not depend on it.
        server._run("initdb", *initdb, "--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en-US")
        server.start()
        yield server
    finally:
        with suppress(RuntimeError):  # the test may have stopped it itself
            server.stop()
        shutil.rmtree(folder, ignore_errors=True)
