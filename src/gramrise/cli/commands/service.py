"""gramrise nightly | schedule | check | backup | restore: the service."""

import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household

if TYPE_CHECKING:
    from gramrise.nightly import Night

# So much of what was set aside is named after a night; our choice: a screen. All of it is kept.
MOST_NAMED = 40


def register(app: typer.Typer) -> None:
    for command in (nightly, schedule, check, backup, restore, forget):
        app.command()(command)


def nightly(context: typer.Context) -> None:
    """One pass over everybody: take in the inbox, find, estimate, send what is due. Safe to run twice."""
    from gramrise.cli import tables
    from gramrise.nightly import run_night

    house: Household = context.obj
    night = run_night(house.store, house.home, house.now_utc())
    tables.say(night.sentence)
    _name_held(night)
    if night.held:
        raise typer.Exit(1)


def _name_held(night: "Night") -> None:
    """What was set aside, waits or failed, a line each."""
    from gramrise.cli import tables

    for line in night.held[:MOST_NAMED]:
        tables.warn(line)
    if len(night.held) > MOST_NAMED:
        tables.warn(f"... and {len(night.held) - MOST_NAMED} more.")


def schedule(
    context: typer.Context,
    once: Annotated[bool, typer.Option("--once", help="Do what is due now and stop; for cron.")] = False,
) -> None:
    """Run every night, whatever happens, until stopped; what was missed is caught up once."""
    if not once:  # loading takes seconds: a signal to stop in them is kept, and answered in good order
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGTERM, signal.SIGINT})
    from gramrise.nightly import run_schedule

    house: Household = context.obj
    raise typer.Exit(run_schedule(house.home, once=once, tell=_told))


def _told(night: "Night") -> None:
    """What one pass of the schedule did, and what waits; that nothing was due, where nothing was."""
    from gramrise.cli import tables

    tables.say(night.sentence if night.persons or night.files or night.held else "Nothing was due.")
    _name_held(night)


def check(context: typer.Context, as_json: Annotated[bool, typer.Option("--json")] = False) -> None:
    """Look for what would keep the service from running, and say how to mend it."""
    from gramrise.cli import documents, tables
    from gramrise.nightly import INBOX, check_health

    house: Household = context.obj
    found = check_health(house.home, house.now_utc())
    if as_json:
        told = {"check": found.findings, "missing": found.missing}
        print(documents.written({name: [each.as_dict() for each in named] for name, named in told.items()}))
    else:
        words = house.words(found.exit_status)
        tables.say(words.say("check.home", folder=str(house.home)))
        tables.say(words.say("check.inbox", folder=str(house.home / INBOX)))
        for finding in found.findings:
            tables.say(f"{finding.code}: {finding.sentence}")
        if not found.findings:
            tables.say(words.say("check.well"))
        if found.missing:
            tables.say(words.say("check.still_missing"))
        for finding in found.missing:
            tables.say(f"  {finding.code}: {finding.sentence}")
    raise typer.Exit(found.exit_status)


def backup(context: typer.Context, to: Annotated[Path, typer.Argument(help="File to write; must not exist.")]) -> None:
    """Copy the database while it may be in use, and prove that the copy is whole."""
    from gramrise.cli import tables
    from gramrise.store import write_backup

    house: Household = context.obj
    write_backup(house.home, to)
    tables.say(f"Copied to {to}, and the copy is whole.")


def restore(
    context: typer.Context,
    source: Annotated[Path, typer.Argument(metavar="FROM", help="A file written by gramrise backup.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask before replacing what is here.")] = False,
    take_in_again: Annotated[
        bool, typer.Option("--take-in-again", help="Put files taken in since that backup back into the inbox.")
    ] = False,
) -> None:
    """Put a backup in the place of the database; what was here is kept beside it."""
    from gramrise.cli import tables
    from gramrise.nightly import restore_home

    house: Household = context.obj
    if not yes and not (sys.stdin.isatty() and typer.confirm(f"Replace the database in {house.home}?")):
        tables.warn("Nothing was changed; say --yes to replace.")
        raise typer.Exit(2)
    restored = restore_home(house.home, source, house.now_utc())
    kept = restored.kept
    tables.say(f"Restored from {source}." + (f" What was here lies in {kept.name}." if kept else ""))
    if restored.lost:
        tables.warn(f"Taken in since that backup was made, and not in it ({len(restored.lost)}):")
        for line in restored.lost[:MOST_NAMED]:
            tables.warn(f"  {line}")
        if len(restored.lost) > MOST_NAMED:
            tables.warn(f"  ... and {len(restored.lost) - MOST_NAMED} more.")
        tables.warn(f"To have them again: gramrise import FILE; what had no file lies in {kept.name if kept else ''}.")
    if restored.not_in_backup:
        _offer_again(house.home, restored.not_in_backup, take_in_again)
    if restored.lost:
        raise typer.Exit(1)


def _offer_again(home: Path, files: list[Path], wanted: bool) -> None:
    """Names files that were taken in after the backup was made, and puts them back into the inbox where wanted."""
    from gramrise.cli import tables
    from gramrise.nightly import back_into_inbox

    tables.warn(f"{len(files)} files in `done` hold rows that the backup does not have:")
    for file in files[:MOST_NAMED]:
        tables.warn(f"  {file.relative_to(home)}")
    if len(files) > MOST_NAMED:
        tables.warn(f"  ... and {len(files) - MOST_NAMED} more.")
    if wanted or (sys.stdin.isatty() and typer.confirm("Put them back into the inbox, to be taken in again?")):
        moved = back_into_inbox(home, files)
        tables.say(f"{moved} files lie in the inbox again; `gramrise nightly` takes them in.")
        return
    tables.warn("To take them in again: move them from `done` into the folder above it, then `gramrise nightly`.")
    raise typer.Exit(1)


def forget(
    context: typer.Context,
    person_id: Annotated[str, typer.Argument(metavar="ID", help="Who is to be forgotten.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask first.")] = False,
) -> None:
    """Delete everything about a person: rows, reports, cards and unsent mail. It cannot be undone."""
    from gramrise.cli import tables
    from gramrise.nightly import forget_person

    house: Household = context.obj
    if person_id not in house.store.being_forgotten():  # else a run before was cut off, and this one does the rest
        person_id = house.person(person_id).person_id
    if not yes and not (sys.stdin.isatty() and typer.confirm(f"Delete everything about {person_id}?")):
        tables.warn("Nothing was deleted; say --yes to delete.")
        raise typer.Exit(2)
    gone = forget_person(house.store, house.home, person_id)
    tables.say(f"{person_id} is forgotten, and {gone.files} files with them.")
    if gone.copies:
        tables.say(f"Taken out of the copies in the home as well: {', '.join(gone.copies)}.")
    tables.say("Backups written elsewhere before still hold them.")
    for line in [*gone.left, *_still_named(house.home, person_id)]:
        tables.warn(line)


def _still_named(home: Path, person_id: str) -> list[str]:
    """What of the home may still name a forgotten person: only its owner may change that."""
    from gramrise.nightly import nightly_settings

    if nightly_settings(home).recipients.get(person_id):
        return [f"gramrise.toml still names who gets mail about {person_id}."]
    return []
