"""The command `gramrise`. Heavy libraries are imported inside the commands, so that `--help` answers at once."""

import sys
import textwrap
from pathlib import Path
from typing import Annotated

import typer

from gramrise.cli import (
    card_commands,
    finding_commands,
    people_commands,
    plan_commands,
    service_commands,
    sharing_commands,
    taking_in_commands,
)
from gramrise.cli.context import Household
from gramrise.domain.problems import CouldNotRun, GramriseError

CAUTION = (
    "Not certified as a medical device; use only as agreed with your care team. "
    "Unconscious, in a seizure or unable to swallow: nothing by mouth, glucagon, the local emergency number."
)

app = typer.Typer(
    name="gramrise",
    help="How many mg/dL one gram of glucose raises this person, at this time of day.\n\n" + CAUTION,
    rich_markup_mode=None,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)
for commands in (
    people_commands,
    plan_commands,
    taking_in_commands,
    finding_commands,
    sharing_commands,
    card_commands,
    service_commands,
):
    commands.register(app)


@app.callback()
def household(
    context: typer.Context,
    home: Annotated[
        Path | None,
        typer.Option(help="Folder of this household's data; else GRAMRISE_HOME, else the platform's data folder."),
    ] = None,
) -> None:
    context.obj = Household(home)


def run() -> None:
    """Entry point: errors meant for people become one line on stderr and the exit status of DEVELOPERS.md."""
    try:
        app()
    except SystemExit as stop:
        # The reader of a pipe (head, a pager) went away: typer ends with 1, which here means something was set aside.
        raise SystemExit(0 if type(sys.stdout).__name__ == "PacifyFlushWrapper" else stop.code) from None
    except GramriseError as trouble:
        # Long words (a path) stay whole, so that they can be copied.
        told = textwrap.fill(f"gramrise: {trouble}", 80, break_long_words=False, break_on_hyphens=False)
        print(told, file=sys.stderr)
        raise SystemExit(exit_status(trouble)) from None


def exit_status(trouble: GramriseError) -> int:
    """1: something waits or was set aside; 2: wrong use; 3: could not run."""
    if isinstance(trouble, CouldNotRun):
        return 3
    return int(getattr(trouble, "exit_status", 2))
