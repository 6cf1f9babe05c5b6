"""Errors of the command line in our own words: what is wrong, and how to mend it."""

import re
from typing import TYPE_CHECKING, Any, Final

import typer

from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    UsageProblem = typer.BadParameter
else:
    # typer keeps a copy of click of its own and exports of its errors only this one; all are made on its base.
    UsageProblem = typer.BadParameter.__base__

_EXTRA: Final = re.compile(r"unexpected extra arguments?(?:\(s\))? \((.*)\)", re.IGNORECASE)
_COMMAND: Final = re.compile(r"No such command '(.*?)'")
_ALONE: Final = re.compile(r"'?(--?[\w-]+)'? requires (?:an argument|\d+ arguments)")
_LOCKED: Final = re.compile(r"(?:Directory|File|Path) '(.*)' is not (?:readable|writable)")
_NO_NUMBER: Final = re.compile(r"'(.*)' is not a valid (float|integer|int)")


def in_our_words(problem: Any) -> WrongUse:
    """A usage error of the framework as one of ours."""
    context = getattr(problem, "ctx", None)
    command = context.command_path if context is not None else "gramrise"
    helped = f"{command} --help lists what there is"
    kind, said = type(problem).__name__, str(getattr(problem, "message", "") or "")
    if kind == "NoSuchOption":
        close = getattr(problem, "possibilities", None) or ()
        return WrongUse(f"there is no option {problem.option_name}", _meant(close) or helped)
    if kind == "MissingParameter":
        return _missing(problem, command)
    for pattern, what, mend in (
        (_EXTRA, "nothing is meant by '{0}' there", f"a name of several words stands in quotes; {helped}"),
        (_COMMAND, "there is no command '{0}'", helped),
        (_ALONE, "{0} stands without its value", "write the value behind it"),
        (_LOCKED, "'{0}' is closed to the user who runs this", "let this user own it, or name another folder"),
        (_NO_NUMBER, "'{0}' is no number", "write a number alone, as 4 or 0.9 or 0,9"),
    ):
        found = pattern.search(said)
        if found is not None:
            return WrongUse(_named(problem) + what.format(found[1]), mend)
    return WrongUse(_named(problem) + (said.rstrip(".") or "that cannot be read"), helped)


def _missing(problem: Any, command: str) -> WrongUse:
    param = problem.param
    if param is None:
        return WrongUse("something is missing", f"{command} --help lists what is needed")
    option = next((each for each in param.opts if each.startswith("--")), "")
    told = getattr(param, "help", None)
    name = option or param.metavar or str(param.name).upper()
    return WrongUse(f"{name} is missing", f"add it: {told.rstrip('.')}" if told else f"see {command} --help")


def _meant(close: Any) -> str:
    return f"perhaps {' or '.join(sorted(close))} is meant" if close else ""


def _named(problem: Any) -> str:
    param = getattr(problem, "param", None)
    option = next((each for each in param.opts if each.startswith("--")), "") if param is not None else ""
    hint = getattr(problem, "param_hint", None)
    return f"{option or hint}: " if option or hint else ""
