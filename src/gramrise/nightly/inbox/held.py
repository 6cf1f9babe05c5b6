"""Files in held/: looked at once more after the clock was set, and reasons whose file was put back are removed."""

import os
from contextlib import suppress
from pathlib import Path

from gramrise.domain.person import Person
from gramrise.domain.printable import printable
from gramrise.nightly.inbox.folders import HELD, INBOX
from gramrise.nightly.inbox.looks import looks_at
from gramrise.nightly.inbox.moves import WHY, first_free


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
