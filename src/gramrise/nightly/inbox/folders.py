"""The folders of the inbox: everybody's own, done and held in it, and what lies in nobody's."""

import errno
import os
from collections import defaultdict
from pathlib import Path
from typing import Final

from gramrise.config.private_files import private_folder
from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.nightly.inbox.moves import first_free

INBOX: Final = "inbox"
DONE: Final = "done"
HELD: Final = "held"
MEMORY: Final = ".done.json"  # of what lies in `done`


def make_inboxes(home: Path, persons: list[Person]) -> list[str]:
    """A folder for everybody, readable by the owner only. Sentences about files that stood where a folder has to be.

    A link that leads out of the inbox is put aside: what it leads to would be moved into folders beside it.
    """
    told, shared = [], shared_folders(home, persons)
    try:
        told += [_made_way(home / INBOX)] if _is_plain_file(home / INBOX) else []
    except OSError as trouble:
        return [f"{INBOX}: a file stands where the folder has to be, and cannot be renamed: {trouble.strerror}."]
    for person in persons:
        folder = home / INBOX / person.person_id
        try:
            leads_out = folder.is_symlink() and person.person_id not in shared
            told += [_made_way(folder)] if leads_out or _is_plain_file(folder) else []
            private_folder(folder)
            told += [_made_way(folder / name) for name in (DONE, HELD) if _is_no_folder(folder / name)]
            _look_into(folder)
        except OSError as trouble:
            told.append(_unusable(person, trouble))
    return told


def _look_into(folder: Path) -> None:
    """Raises PermissionError where a folder, or one of ours in it, cannot be opened and written to."""
    for each in (folder, folder / DONE, folder / HELD):
        if os.path.isdir(each) and not os.access(each, os.R_OK | os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(each))


def closed_inboxes(home: Path, persons: list[Person]) -> list[str]:
    """A sentence for each inbox that cannot be opened by the user who runs this: nothing of it is read."""
    told = []
    for person in persons:
        try:
            _look_into(home / INBOX)
            _look_into(home / INBOX / person.person_id)
        except OSError as trouble:
            told.append(_unusable(person, trouble))
    return told


def _unusable(person: Person, trouble: OSError) -> str:
    return (
        f"{INBOX}/{person.person_id}: the folder cannot be used: {trouble.strerror}. "
        "To mend: see that it is a folder of the user who runs gramrise."
    )


def _is_plain_file(path: Path) -> bool:
    """A file, or a pipe, socket or device: anything but a folder or a link."""
    return os.path.lexists(path) and not os.path.islink(path) and not os.path.isdir(path)


def _is_no_folder(path: Path) -> bool:
    """A plain file, or a link: what it leads to is not ours, and a health log moved there may be open to others."""
    return os.path.islink(path) or _is_plain_file(path)


def _made_way(file: Path) -> str:
    """A plain file named as one of our folders gets another name; a link is put aside, and never followed."""
    linked, plain = file.is_symlink(), file.is_file()
    aside = first_free(file.with_name(f"{file.name}-{'link' if linked else 'file'}"))
    os.replace(file, aside)
    if linked:
        return (
            f"{file.parent.name}/{file.name}: a link stood where the folder '{file.name}' has to be; it is now called "
            f"{aside.name}, and was not followed. To mend: move what lies behind it into the folder; remove the link."
        )
    place, name = f"{file.parent.name}/{file.name}", file.name
    if not plain:
        return f"{place}: something that is no folder stood where the folder '{name}' has to be; now {aside.name}."
    return f"{place}: a file stood where the folder '{name}' has to be; now {aside.name}."


def shared_folders(home: Path, persons: list[Person]) -> dict[str, str]:
    """For each person whose inbox is also another's, by a link or a mount, what is to be said; neither is read."""
    whose: dict[tuple[int, int], list[str]] = defaultdict(list)
    for person in persons:
        try:
            found = (home / INBOX / person.person_id).stat()
        except OSError:
            continue
        whose[found.st_dev, found.st_ino].append(person.person_id)
    return {
        each: f"{INBOX}/{each}: it is one folder with {INBOX}/{_others(each, ids)}; nobody knows whose its files "
        "are, and none is read. To mend: give each their own folder."
        for ids in whose.values()
        if len(ids) > 1
        for each in ids
    }


def _others(one: str, ids: list[str]) -> str:
    return f", {INBOX}/".join(each for each in ids if each != one)


def held_files(home: Path) -> int:
    """How many files wait in held/ folders."""
    return sum(1 for file in (home / INBOX).glob(f"*/{HELD}/*") if not file.name.endswith(".why.txt"))


def for_nobody(home: Path, persons: list[Person]) -> list[str]:
    """What lies in the inbox outside everybody's folder, in order of name, a sentence each: it is never read."""
    ids = sorted(person.person_id for person in persons)
    try:
        here = sorted((home / INBOX).iterdir()) if (home / INBOX).is_dir() else []
    except OSError:
        here = []  # who cannot use it is told so, person by person
    strange = [path for path in here if not path.name.startswith(".") and (path.name not in ids or not path.is_dir())]
    return [_for_nobody(path, ids) for path in strange]


def _for_nobody(path: Path, ids: list[str]) -> str:
    folders = ", ".join(f"{INBOX}/{each}" for each in ids) or "none yet: gramrise person add"
    name = printable(path.name)
    if not path.is_dir():
        what = f"{INBOX}/{name}: a file in no person's folder is not read"
        return f"{what}. To mend: move it into the folder of its person ({folders})."
    try:
        files = sum(1 for file in path.iterdir() if not file.name.startswith(".") and _is_plain_file(file))
    except OSError:
        files = 0
    what = f"{INBOX}/{name}: nobody here has the id '{name}'"
    if not files:
        return f"{what}. To mend: remove the folder; people's are {folders}."
    whose = "its one file is" if files == 1 else f"its {files} files are"
    return f"{what}; {whose} not read. To mend: move what is in it into the folder of its person ({folders})."


def files_held(home: Path, person_id: str) -> int:
    """How many of them are a person's."""
    held = (home / INBOX / person_id / HELD).glob("*")
    return sum(1 for file in held if not file.name.endswith(".why.txt"))
