"""Files in held/: read again after the clock was set, moved to done/ once taken in by hand; old reasons are removed."""

import os
from contextlib import suppress
from pathlib import Path

from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.nightly.inbox.done import remember
from gramrise.nightly.inbox.folders import DONE, HELD, INBOX
from gramrise.nightly.inbox.looks import looks_at
from gramrise.nightly.inbox.moves import WHY, first_free, move
from gramrise.store import Store, sum_of


def bring_back_held(home: Path, persons: list[Person]) -> list[str]:
    """Moves every held file back into its inbox, and says so: by a wrong clock its days may have been read wrongly."""
    told: list[str] = []
    for person in persons:
        folder = home / INBOX / person.person_id
        with suppress(OSError):  # one folder costs nobody else their night; what stays there is named by `check`
            for file in _held(folder):
                back = first_free(folder / file.name)
                os.replace(file, back)
                told.append(
                    f"{INBOX}/{person.person_id}/{printable(back.name)}: the clock was set since it was held, and it "
                    "is read again."
                )
    return told


def settle_held(store: Store, home: Path, persons: list[Person]) -> None:
    """Moves every held file whose very content was taken in since into done/: it waits for nobody."""
    for person in persons:
        held = _held(home / INBOX / person.person_id)
        if not held:
            continue
        landed = {
            each["content_hash"]
            for each in store.imports(person.person_id)
            if not each["quarantined"] or each["quarantined"] < each["rows_offered"]
        }
        for file in held:
            with suppress(OSError):  # what stays there is named by `check`
                if sum_of(file) in landed:
                    _to_done(file)


def settle_if_held(home: Path, person: Person, file: Path) -> bool:
    """Moves a file that was just taken in by hand into done/, where it lies in the person's held/. Whether it did."""
    folder = home / INBOX / person.person_id
    try:
        here = next((each for each in _held(folder) if each.samefile(file)), None)
        if here is None:
            return False
        _to_done(here)
    except OSError:  # its rows are in; the next pass tries again
        return False
    return True


def _to_done(file: Path) -> None:
    remember(move(file, DONE, file.parent.parent))
    file.with_name(file.name + WHY).unlink(missing_ok=True)


def remove_old_reasons(home: Path, persons: list[Person]) -> None:
    """Removes each reason beside which no file lies any more: the file was put back, or thrown away."""
    for person in persons:
        folder = home / INBOX / person.person_id / HELD
        for file in [] if os.path.islink(folder) else looks_at(folder):
            if file.name.endswith(WHY) and not os.path.lexists(file.with_name(file.name.removesuffix(WHY))):
                with suppress(OSError):  # it is in nobody's way
                    file.unlink()


def _held(folder: Path) -> list[Path]:
    held = folder / HELD
    return [] if os.path.islink(held) else [file for file in looks_at(held) if not file.name.endswith(WHY)]
