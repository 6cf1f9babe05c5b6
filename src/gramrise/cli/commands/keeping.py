"""gramrise backup | restore | export | bring-in | forget: what is kept, taken out and deleted."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household
from gramrise.cli.typed_lines import confirmed
from gramrise.domain.problems import CouldNotRun, WrongUse

if TYPE_CHECKING:
    from gramrise.nightly import Restored

# So many files are named after a restore; our choice: a screen.
MOST_NAMED = 40
KeyOption = Annotated[Path | None, typer.Option("--key", metavar="FILE", help="File of the key that seals backups.")]


def register(app: typer.Typer) -> None:
    for command in (backup, restore, export, forget):
        app.command()(command)
    app.command(name="bring-in")(bring_in)


def backup(
    context: typer.Context,
    to: Annotated[Path | None, typer.Argument(help="File to write; must not exist.")] = None,
    key: KeyOption = None,
    key_to_make: Annotated[
        Path | None, typer.Option("--new-key", metavar="FILE", help="Make a new key, write it there, and seal with it.")
    ] = None,
) -> None:
    """Copy the database while it may be in use, and prove that the copy is whole; with a key, sealed."""
    from gramrise.store import NEWEST_STEP, TOOK_OUT, new_key, read_key, standing_step, write_backup

    house: Household = context.obj
    if key_to_make is not None:
        new_key(key_to_make)
        house.say(f"The key is in {key_to_make}. Keep it elsewhere than the backups: without it nobody opens them.")
    if to is None:
        if key_to_make is None:
            raise WrongUse("backup: name the file to write", "gramrise backup FILE")
        return
    key = key_to_make or key
    write_backup(house.home, to, None if key is None else read_key(key))
    if standing_step(house.home) == NEWEST_STEP:  # to note it must not bring old tables up to date
        house.store.trail.note(house.store.actor, TOOK_OUT, "backup", house.now_utc())
    house.say(f"Copied to {to}, and the copy is whole; its check sum lies beside it.")
    if key is not None:
        house.say("It is sealed.")


def restore(
    context: typer.Context,
    source: Annotated[Path, typer.Argument(metavar="FROM", help="A file written by gramrise backup.")],
    key: KeyOption = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask before replacing what is here.")] = False,
    take_in_again: Annotated[
        bool, typer.Option("--take-in-again", help="Put files taken in since that backup back into the inbox.")
    ] = False,
) -> None:
    """Put a backup in the place of the database; what was here is kept beside it."""
    from gramrise.nightly import restore_home, restore_told
    from gramrise.store import CHANGED, read_key

    house: Household = context.obj
    if not yes and not (sys.stdin.isatty() and confirmed(house.spoken(f"Replace the database in {house.home}?"))):
        house.warn("Nothing was changed; say --yes to replace.")
        raise typer.Exit(2)
    restored = restore_home(house.home, source, house.now_utc(), None if key is None else read_key(key))
    house.store.trail.note(house.store.actor, CHANGED, "restore", house.now_utc())
    try:
        _tell_restored(house, source, restored, take_in_again)
    finally:
        restore_told(house.home)
    if not restored.complete:
        raise typer.Exit(1)


def _tell_restored(house: Household, source: Path, restored: "Restored", take_in_again: bool) -> None:
    house.say(f"Restored from {source}.")
    if restored.kept:
        house.say(f"What was here lies in {restored.kept.name}.")
    if restored.lost:
        house.warn(f"Taken in since that backup was made, and not in it ({len(restored.lost)}):")
        _list(house, restored.lost)
        where = ", ".join(file.name for file in restored.replaced)
        house.warn(f"To have them again: gramrise import FILE; what had no file lies in {where}.")
    _tell_changed(house, restored)
    if restored.not_in_backup:
        _offer_again(house, restored.not_in_backup, take_in_again)


def _tell_changed(house: Household, restored: "Restored") -> None:
    """What was changed, taken back or forgotten since the backup, and is again as it was then."""
    for name in restored.unread:
        house.warn(f"{name} cannot be read, so what was logged or changed in it since that backup cannot be named.")
    if restored.let_in:
        house.warn(f"Phones let in as that backup has them: {restored.let_in}. Lost one since? gramrise devices")
    if restored.waiting:
        house.warn(f"Mails that wait in that backup: {restored.waiting}. What went out since goes out once more.")
    if restored.changed:
        house.warn(f"Changed since that backup was made, and as before again ({len(restored.changed)}):")
        _list(house, restored.changed)
        house.warn("Where it still holds, say it again.")
    if restored.again:
        house.warn(f"Taken back since that backup was made, and counting again ({len(restored.again)}):")
        _list(house, [f"{number}: {told}" for number, told in restored.again])
        house.warn("To take one back again: gramrise undo NUMBER.")
    for person in restored.persons:
        house.warn(f"{person} is here again, and was not before. Forgotten since? gramrise forget {person}")


def _list(house: Household, lines: list[str]) -> None:
    from gramrise.cli import tables

    for line in lines[:MOST_NAMED]:
        tables.warn(f"  {line}")
    if len(lines) > MOST_NAMED:
        house.warn(f"  ... and {len(lines) - MOST_NAMED} more.")


def _offer_again(house: Household, files: list[Path], wanted: bool) -> None:
    """Names files that were taken in after the backup was made, and puts them back into the inbox where wanted."""
    from gramrise.cli import tables
    from gramrise.nightly import back_into_inbox

    house.warn(f"{len(files)} files in `done` hold rows that the backup does not have:")
    for file in files[:MOST_NAMED]:
        tables.warn(f"  {file.relative_to(house.home)}")
    if len(files) > MOST_NAMED:
        house.warn(f"  ... and {len(files) - MOST_NAMED} more.")
    asked = house.spoken("Put them back into the inbox, to be taken in again?")
    if wanted or (sys.stdin.isatty() and confirmed(asked)):
        moved = back_into_inbox(house.home, files)
        house.say(f"{moved} files lie in the inbox again; `gramrise nightly` takes them in.")
        return
    house.warn("To take them in again: move them from `done` into the folder above it, then `gramrise nightly`.")
    raise typer.Exit(1)


def export(
    context: typer.Context,
    person_id: Annotated[str, typer.Argument(metavar="ID", help="Who is to be taken out.")],
    to: Annotated[Path, typer.Option("--to", metavar="DIR", help="Folder to write; must not exist.")],
) -> None:
    """Write everything told about a person in open forms: plain tables, and a document that brings them back."""
    from gramrise.nightly import export_person

    house: Household = context.obj
    written = export_person(house.store, house.person(person_id).person_id, to, house.now_utc())
    house.say(f"Wrote {len(written.files)} files to {to}: {', '.join(file.name for file in written.files)}.")


def bring_in(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder written by gramrise export.")],
    as_id: Annotated[str | None, typer.Option("--as", metavar="ID", help="Under another id.")] = None,
) -> None:
    """Make a person anew from an exported folder, with the same findings."""
    from gramrise.nightly import bring_in_person

    house: Household = context.obj
    brought = bring_in_person(house.store, folder, house.now_utc(), as_id)
    house.say(f"{brought} is here, with everything that was told. `gramrise factors --person {brought}` finds anew.")


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
    if not yes and not (sys.stdin.isatty() and confirmed(house.spoken(f"Delete everything about {person_id}?"))):
        house.warn("Nothing was deleted; say --yes to delete.")
        raise typer.Exit(2)
    try:
        gone = forget_person(house.store, house.home, person_id)
    except CouldNotRun as trouble:
        if person_id in _begun(house):
            raise CouldNotRun(
                f"{trouble.what}; {person_id} was being forgotten, and is not kept: the rest of it was not finished",
                f"mend that, then run it again: gramrise forget {person_id}",
                trouble.code,
            ) from trouble
        raise
    house.say(f"{person_id} is forgotten, and {gone.files} files with them.")
    if gone.copies:
        house.say(f"Taken out of the copies in the home as well: {', '.join(gone.copies)}.")
    house.say("Backups written elsewhere before still hold them.")
    for line in [*gone.left, *_still_named(house.home, person_id)]:
        tables.warn(line)


def _begun(house: Household) -> set[str]:
    """Who was begun to be forgotten; nobody where that cannot be read now."""
    try:
        return set(house.store.being_forgotten())
    except CouldNotRun:
        return set()


def _still_named(home: Path, person_id: str) -> list[str]:
    """What of the home may still name a forgotten person: only its owner may change that."""
    from gramrise.nightly import nightly_settings

    if nightly_settings(home).recipients.get(person_id):
        return [f"gramrise.toml still names who gets mail about {person_id}."]
    return []
