"""The command `gramrise`. Heavy libraries are imported inside the commands, so that `--help` answers at once."""

import gc
import sys
import textwrap
from pathlib import Path
from typing import Annotated

import typer

from gramrise import __version__
from gramrise.cli.commands import counting as counting_commands
from gramrise.cli.commands import findings as finding_commands
from gramrise.cli.commands import inputs as taking_in_commands
from gramrise.cli.commands import persons as people_commands
from gramrise.cli.commands import service as service_commands
from gramrise.cli.commands import sharing as sharing_commands
from gramrise.cli.commands import supplies as supplies_commands
from gramrise.cli.context import Household
from gramrise.domain.problems import CouldNotRun, GramriseError

# Our choice: loading libraries makes hundreds of thousands of objects that stay; looking through them again and again
# for ones to free took a tenth of a quick command's time.
gc.set_threshold(100_000, 20, 100)

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
    taking_in_commands,
    supplies_commands,
    counting_commands,
    finding_commands,
    sharing_commands,
    service_commands,
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
