"""Opening a home's database, made or migrated where needed. Alembic is loaded only when a migration is to run."""

from pathlib import Path

from sqlalchemy import Engine

from gramrise.config.settings import database_url
from gramrise.domain.problems import CouldNotRun
from gramrise.store import backup, database
from gramrise.store.restoring import refuse_half_restored
from gramrise.store.troubles import explained


def open_engine(home: Path, url: str | None, create: bool) -> Engine:
    """The engine of a home's database, its tables at the newest step. Parameters as `Store.open`."""
    url = url or database_url(home)
    path = home / database.DATABASE_FILE
    if url is None:
        refuse_half_restored(home)
        refuse_gone(home)
    if not create and url is None and not path.exists():
        raise CouldNotRun(f"there is no database in {home}", "add a person first: `gramrise person add`", "no_home")
    database.make_home(home)
    if url is None:
        database.make_file(path)
    engine = database.engine_for(url or f"sqlite:///{path}")
    try:
        with explained(path):
            with engine.connect().execution_options(only_reads=True) as connection:
                standing = database.step_of(connection)
            if standing is None and url is not None and not create:
                raise CouldNotRun(
                    "the database has no tables yet", "add a person first: `gramrise person add`", "no_home"
                )
            if standing != database.NEWEST_STEP:
                if standing is not None and url is None:
                    backup.before_migration(home, standing)
                database.to_newest(engine)
    except BaseException:
        engine.dispose()
        raise
    return engine


def refuse_gone(home: Path) -> None:
    """Raises CouldNotRun (code database_gone) where a home was at work before and its database is not there, or empty.

    A new one in its place would have everything begin anew in silence: a disk that is not mounted, a file that a power
    cut left empty. What a home leaves beside the database says that there was one.
    """
    path = home / database.DATABASE_FILE
    if path.exists() and path.stat().st_size:
        return
    beside = [home / "health.json", *sorted(home.glob("inbox/*/.done.json"))]
    left = [file for file in beside if file.exists()]
    if left:
        raise CouldNotRun(
            f"{path.name} is {'empty' if path.exists() else 'gone'}, though this home was at work before",
            "look whether the right disk is mounted; else: gramrise restore FROM, with a file written by gramrise "
            "backup. What was taken in lies in inbox/*/done. To begin anew all the same: remove "
            + ", ".join(file.relative_to(home).as_posix() for file in left),
            "database_gone",
        )
