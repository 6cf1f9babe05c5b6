"""Folders and files that only their owner can reach, whatever the umask; a file is there whole or not at all."""

import os
from pathlib import Path
from typing import Final

ONLY_OWNER_FOLDER: Final = 0o700
ONLY_OWNER_FILE: Final = 0o600


def private_folder(folder: Path) -> None:
    """Makes a folder and those above it that are missing. Folders that are there keep their rights."""
    if not folder.is_dir():
        if folder.parent != folder:
            private_folder(folder.parent)
        folder.mkdir(mode=ONLY_OWNER_FOLDER, exist_ok=True)


def _growing(path: Path) -> Path:
    """The name under which a file stands while it is written."""
    return path.with_name(f".{path.name}.growing" if len(os.fsencode(path.name)) < 200 else ".growing")


def remove_cut_off(path: Path) -> None:
    """Removes what a killed `write_whole` of this file left; nobody may be writing it now."""
    _growing(path).unlink(missing_ok=True)


def write_whole(path: Path, content: bytes, *, synced: bool = True) -> None:
    """Writes or replaces a file.

    synced  on the disk before its name is; without it a power cut may cost the file, never half of it
    """
    growing = _growing(path)
    try:
        handle = os.open(growing, os.O_CREAT | os.O_WRONLY | os.O_TRUNC | os.O_NOFOLLOW, ONLY_OWNER_FILE)
        with os.fdopen(handle, "wb") as out:
            os.fchmod(handle, ONLY_OWNER_FILE)
            out.write(content)
            if synced:
                out.flush()
                os.fsync(out.fileno())
        os.replace(growing, path)
    except OSError:
        growing.unlink(missing_ok=True)  # on a full disk half a file would keep what little room there is
        raise
