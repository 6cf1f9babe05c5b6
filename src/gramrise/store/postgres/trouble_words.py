"""What a PostgreSQL server refused, in words, with how to mend it. By the SQLSTATE codes of PostgreSQL, appendix A."""

from typing import Any, Final

from gramrise.domain.problems import CouldNotRun

GONE: Final = (
    "the database server does not answer or went away",
    "start it, or look at the network and at `database` in gramrise.toml, then run this again; what was saved before "
    "stays, and this step was undone whole",
    "server_gone",
)
NO_ROOM: Final = (
    "the disk of the database server is full",
    "make room there, then run this again; what was saved before stays, and this step was undone whole",
    "disk_full",
)
IN_USE: Final = (
    "the database is in use by another program",
    "wait for the other command to end, then run this again; this step was undone whole",
    "database_locked",
)
CROWDED: Final = (
    "the database server takes no more connections",
    "end programs that hold some, or raise max_connections there, then run this again",
    "server_crowded",
)
REFUSED: Final = (
    "the database server did not let this user in",
    "look at user and password: PGPASSWORD, or ~/.pgpass readable by its owner only; `database` in gramrise.toml names "
    "the user",
    "server_refused",
)
NO_DATABASE: Final = (
    "the database server has no database of that name",
    "let its administrator make it (createdb), or mend `database` in gramrise.toml",
    "no_database",
)
NOT_ALLOWED: Final = (
    "the database server does not let this user do that",
    "let its administrator grant the rights that DEVELOPERS.md names under 'PostgreSQL'",
    "server_rights",
)
READ_ONLY: Final = (
    "the database server takes no writes",
    "name the primary server, not a standby, in `database` of gramrise.toml; nothing that was saved is lost",
    "disk_read_only",
)
DAMAGED: Final = (
    "the database server reports damaged data; it was left as it is",
    "look at the server's log, then restore the latest backup with `gramrise restore`",
    "database_damaged",
)
OTHER_TABLES: Final = (
    "the tables of the database are not those that this gramrise makes; they were left as they are",
    "restore the latest backup with `gramrise restore`, or a copy from the folder `backups` of the home",
    "schema_damaged",
)
# The first that fits: whole codes before their classes (the first two characters).
WORDS: Final = {
    "53100": NO_ROOM,
    "53300": CROWDED,
    "55P03": IN_USE,
    "57P01": GONE,
    "57P02": GONE,
    "57P03": GONE,
    "57P05": GONE,
    "3D000": NO_DATABASE,
    "25006": READ_ONLY,
    "42501": NOT_ALLOWED,
    "42P01": OTHER_TABLES,
    "42703": OTHER_TABLES,
    "42P07": OTHER_TABLES,
    "42701": OTHER_TABLES,
    "42704": OTHER_TABLES,
    "08": GONE,
    "28": REFUSED,
    "40": IN_USE,
    "XX": DAMAGED,
}


def is_of_server(problem: BaseException) -> bool:
    """Whether an error is one of psycopg's, whether or not that is installed."""
    return hasattr(problem, "sqlstate")


def trouble_of_server(problem: BaseException) -> CouldNotRun | None:
    """What an error of psycopg's means for whoever runs the command; None for a fault of ours."""
    state = getattr(problem, "sqlstate", None)
    if state is None:
        return CouldNotRun(*_without_state(problem)) if _is_operational(problem) else None
    words = WORDS.get(state) or WORDS.get(state[:2])
    return None if words is None else CouldNotRun(*words)


def _without_state(problem: BaseException) -> tuple[str, str, str]:
    """An error of the client's: no server, or one that refused before it could give a code."""
    said = str(problem).lower()
    # Before a session begins there is no code: 'FATAL: could not write init file', and what full disks say elsewhere.
    if any(told in said for told in ("no space left", "could not write", "could not extend", "disk full")):
        return NO_ROOM
    if "password authentication" in said or "no password supplied" in said or "pg_hba" in said:
        return REFUSED
    if "too many clients" in said or "remaining connection slots" in said:
        return CROWDED
    if "does not exist" in said and "database" in said:
        return NO_DATABASE
    return GONE


def _is_operational(problem: Any) -> bool:
    return any(kind.__name__ == "OperationalError" for kind in type(problem).__mro__)
