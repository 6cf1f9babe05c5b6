"""The check sum beside a backup, in the form that `sha256sum --check` reads."""

import hashlib
from pathlib import Path
from typing import Final

from gramrise.config.private_files import write_whole
from gramrise.domain.problems import CouldNotRun

ENDING: Final = ".sha256"
READ_AT_ONCE_BYTES: Final = 1 << 20


def write_checksum(growing: Path, to: Path) -> None:
    """Writes, beside `to`, the check sum of what is about to get that name: no copy ever stands without its own."""
    write_whole(to.with_name(to.name + ENDING), f"{sum_of(growing)}  {to.name}\n".encode())


def has_checksum(file: Path) -> bool:
    """Whether a check sum lies beside a file."""
    return file.with_name(file.name + ENDING).is_file()


def refuse_changed(file: Path) -> None:
    """Raises CouldNotRun (code backup_changed) where a check sum lies beside a file and is another's."""
    beside = file.with_name(file.name + ENDING)
    if not has_checksum(file):
        return
    told = beside.read_text("utf-8", "replace").split()
    if not told or told[0] != sum_of(file):
        raise CouldNotRun(
            f"{file.name} is damaged or another file: its check sum is not the one beside it",
            f"name another backup; if you know why it changed, delete {beside.name}. Nothing was changed",
            "backup_changed",
        )


def sum_of(file: Path) -> str:
    digest = hashlib.sha256()
    with file.open("rb") as content:
        while piece := content.read(READ_AT_ONCE_BYTES):
            digest.update(piece)
    return digest.hexdigest()
