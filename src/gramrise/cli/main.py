"""The command `gramrise`. Heavy libraries are imported inside the commands, so that `--help` answers at once."""

import gc
import io
import os
import sys
import textwrap
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from gramrise import __version__
from gramrise.cli.commands import cards as card_commands
from gramrise.cli.commands import counting as counting_commands
from gramrise.cli.commands import drift as drift_commands
from gramrise.cli.commands import findings as finding_commands
from gramrise.cli.commands import inputs as taking_in_commands
from gramrise.cli.commands import keeping as keeping_commands
from gramrise.cli.commands import person_facts as fact_commands
from gramrise.cli.commands import persons as people_commands
from gramrise.cli.commands import plans as plan_commands
from gramrise.cli.commands import review as review_commands
from gramrise.cli.commands import serve as page_commands
from gramrise.cli.commands import service as service_commands
from gramrise.cli.commands import sharing as sharing_commands
from gramrise.cli.commands import signing as signing_commands
from gramrise.cli.commands import supplies as supplies_commands
from gramrise.cli.commands import undoing as undo_commands
from gramrise.cli.commands import watching as watching_commands
from gramrise.cli.context import Household
from gramrise.cli.usage_words import UsageProblem, in_our_words
from gramrise.domain.printable import for_terminal
from gramrise.domain.problems import CouldNotRun, GramriseError, refused_by_disk

# Our choice: loading libraries makes hundreds of thousands of objects that stay; looking through them again and again
# for ones to free took a tenth of a quick command's time.
gc.set_threshold(100_000, 20, 100)

CAUTION = (
    "Not certified as a medical device; use only as agreed with your care team. "
    "Unconscious, in a seizure or unable to swallow: nothing by mouth, glucagon, the local emergency number."
)

# The household of the command that runs, none before there is one: an error is told in its language.
_AT_WORK: list[Household] = []

app = typer.Typer(
    name="gramrise",
    help="How many mg/dL one gram of glucose raises this person, at this time of day.\n\n" + CAUTION,
    rich_markup_mode=None,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)
for commands in (
    people_commands,
    fact_commands,
    plan_commands,
    taking_in_commands,
    undo_commands,
    supplies_commands,
    counting_commands,
    finding_commands,
    drift_commands,
    sharing_commands,
    signing_commands,
    card_commands,
    review_commands,
    page_commands,
    service_commands,
    keeping_commands,
    watching_commands,
):
    commands.register(app)


def _say_version(wanted: bool) -> None:
    if wanted:
        print(f"gramrise {__version__}")
        raise typer.Exit


@app.callback()
def household(
    context: typer.Context,
    home: Annotated[
        Path | None,
        typer.Option(help="Folder of this household's data; else GRAMRISE_HOME, else the platform's data folder."),
    ] = None,
    version: Annotated[  # noqa: ARG001 - answered before any command runs
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    context.obj = Household(home)
    _AT_WORK[:] = [context.obj]


def run() -> None:
    """Entry point: errors meant for people become one line on stderr and the exit status of DEVELOPERS.md."""
    os.umask(os.umask(0o077) | 0o077)  # whatever a command writes is for its owner only
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # bytes of a name that are no text end no command
            stream.reconfigure(errors="backslashreplace")
    try:
        raise SystemExit(app(standalone_mode=False) or 0)
    except SystemExit as stop:
        # The reader of a pipe (head, a pager) went away: typer ends with 1, which here means something was set aside.
        raise SystemExit(0 if type(sys.stdout).__name__ == "PacifyFlushWrapper" else stop.code) from None
    except UsageProblem as problem:
        if type(problem).__name__ == "NoArgsIsHelpError":  # a bare 'gramrise': its message is the whole help
            print(problem.message, file=sys.stderr)
            raise SystemExit(2) from None
        _end_with(in_our_words(problem))
    except typer.Abort:
        print("gramrise: stopped; nothing more was done.", file=sys.stderr)
        raise SystemExit(1) from None
    except OSError as problem:
        refused = refused_by_disk(problem)
        if refused is None:
            raise
        _end_with(refused)
    except GramriseError as trouble:
        _end_with(trouble)


def _end_with(trouble: GramriseError) -> NoReturn:
    # Long words (a path) stay whole, so that they can be copied.
    said = for_terminal(f"gramrise: {_spoken(trouble)}")
    told = textwrap.fill(said, 80, break_long_words=False, break_on_hyphens=False)
    print(told, file=sys.stderr)
    raise SystemExit(exit_status(trouble)) from None


def _spoken(trouble: GramriseError) -> str:
    """The trouble in the household's language; a store that may be the trouble is not opened to look for it."""
    from gramrise.report import in_language

    languages = [house.language(opens=not isinstance(trouble, CouldNotRun)) for house in _AT_WORK]
    return in_language(str(trouble), *languages or ["en"])


def exit_status(trouble: GramriseError) -> int:
    """1: something waits or was set aside; 2: wrong use; 3: could not run."""
    if isinstance(trouble, CouldNotRun):
        return 3
    return int(getattr(trouble, "exit_status", 2))
