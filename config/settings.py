"""Settings of each room: a shipped TOML file, overridden by the table of the same name in the home's gramrise.toml."""

import os
import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from pydantic import BaseModel

SETTINGS_FILE = "gramrise.toml"
# The one setting that belongs to no room: where the rows are kept. It stands above the first [table].
DATABASE_KEY: Final = "database"
POSTGRESQL: Final = ("postgresql://", "postgresql+psycopg://")

M = TypeVar("M", bound="BaseModel")


@cache
def _shipped(room: str) -> dict[str, Any]:
    return tomllib.loads((files("gramrise.config") / f"{room}.toml").read_text("utf-8"))


def load(room: str, model: type[M], home: Path | None = None) -> M:
    """The settings of one room ("detect", "estimate", "intake", "report", "nightly" ...) as its frozen model.

    room   name of the shipped file `config/<room>.toml` and of the table in the home's gramrise.toml
    raises WrongUse, naming the file, the key and what is wrong with it
    """
    from pydantic import ValidationError  # here: a command that only looks for slips must not load it

    values = _merged(dict(_shipped(room)), own_settings(home).get(room, {}))
    try:
        return model.model_validate(values)
    except ValidationError as problem:
        first = problem.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        what, mend = _SLIPS.get(first["type"], (first["msg"], "change it"))
        raise WrongUse(
            f"settings [{room}] {key}: {what}", f"{mend}, '{key}' under [{room}] in {SETTINGS_FILE}"
        ) from problem


# Kinds of slips in a setting, in words for people: what is wrong, and how to mend it.
_SLIPS: Final = {
    "extra_forbidden": ("there is no such setting", "look at the spelling, or take it out"),
    "missing": ("this setting is missing", "add it"),
    "float_parsing": ("this is no number", "write a number"),
    "float_type": ("this is no number", "write a number without quotes"),
    "int_parsing": ("this is no whole number", "write a whole number"),
    "int_type": ("this is no whole number", "write a whole number without quotes"),
    "int_from_float": ("this is no whole number", "write a whole number"),
    "string_type": ("this is no text", "write it in quotes"),
    "bool_parsing": ("this is neither true nor false", "write true or false"),
    "bool_type": ("this is neither true nor false", "write true or false"),
    "tuple_type": ("this is no list", "write it in [brackets]"),
    "dict_type": ("this is no table", "write it as a table of its own"),
    "greater_than": ("this must be above zero", "write a larger number"),
}


def own_settings(home: Path | None) -> dict[str, dict[str, Any]]:
    """The tables of a home's gramrise.toml, by room; {} without one.

    raises WrongUse for a file that is no TOML, and for a table no room has: such a slip would change nothing in silence
    """
    own = _own_file(home)
    database_url(home)  # a slip in it is told by every command, too
    own.pop(DATABASE_KEY, None)
    for name, table in own.items():
        if name not in _rooms():
            raise WrongUse(
                f"{SETTINGS_FILE}: nothing is set by '{name}'",
                f"settings stand under [{'], ['.join(_rooms())}]; time bands, starting table, sources and plan belong "
                "to a person: gramrise person set, source, plan",
            )
        if not isinstance(table, dict):
            raise WrongUse(f"{SETTINGS_FILE}: '{name}' must be a table", f"write its keys under a line [{name}]")
    return own


def database_url(home: Path | None) -> str | None:
    """The PostgreSQL database of a home, by its gramrise.toml; None: the SQLite file in the home folder.

    raises WrongUse for anything that is no address of a PostgreSQL database
    """
    told = _own_file(home).get(DATABASE_KEY)
    if told is None:
        return None
    if not isinstance(told, str) or not told.startswith(POSTGRESQL):
        raise WrongUse(
            f"{SETTINGS_FILE}: '{DATABASE_KEY}' is no address of a PostgreSQL database",
            f'write {DATABASE_KEY} = "postgresql+psycopg://USER@HOST/NAME"; without it the home keeps its own file',
        )
    return told.replace("postgresql://", "postgresql+psycopg://", 1)


def _own_file(home: Path | None) -> dict[str, Any]:
    """What a home's gramrise.toml says; {} without one. Raises WrongUse for what is no file, or no TOML."""
    own_file = home / SETTINGS_FILE if home is not None else None
    if own_file is None or not os.path.lexists(own_file):
        return {}
    if not own_file.is_file():  # asked before it is opened: a pipe or a device may never end
        raise WrongUse(
            f"{SETTINGS_FILE} is not a file, or a link to none that is there",
            "put the file itself there; where this home has no settings of its own, take away what stands there",
        )
    try:
        return tomllib.loads(own_file.read_text("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as problem:
        raise WrongUse(f"{SETTINGS_FILE} is not a TOML file: {problem}", "mend the line that is named") from problem


@cache
def _rooms() -> tuple[str, ...]:
    names = (entry.name for entry in files("gramrise.config").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def _merged(base: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for key, value in own.items():
        deeper = isinstance(value, dict) and isinstance(base.get(key), dict)
        merged[key] = _merged(base[key], value) if deeper else value
    return merged
