"""Backups sealed with a key, so that who finds the disk finds nothing.

A sealed file is a first line that says what it is, and then one Fernet token a line (AES in CBC mode with an HMAC over
it, by the library `cryptography`). Each token holds a piece of the file with its number, the number of this sealing and
whether it is the last: pieces that are missing, doubled, in another order or of another file are refused.
"""

import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from gramrise.config.private_files import write_whole
from gramrise.domain.problems import CouldNotRun, WrongUse
from gramrise.store.keeping.checksums import write_checksum

if TYPE_CHECKING:
    from cryptography.fernet import Fernet

FIRST_LINE: Final = b"gramrise sealed backup, form 1: one Fernet token a line\n"
# Our choice: a piece is held in memory three times; a longer token costs more memory and saves nothing.
PIECE_BYTES: Final = 1 << 20
SEALING_BYTES: Final = 16
NUMBER_BYTES: Final = 8
_HEAD: Final = SEALING_BYTES + NUMBER_BYTES + 1
# So long a token of a piece is at most: base64 of the piece and 100 bytes of its own.
LONGEST_TOKEN: Final = (PIECE_BYTES + 200) * 4 // 3 + 100
ANYBODY_ELSE: Final = 0o077


def new_key(to: Path) -> None:
    """Writes a new key into a file only its owner can read. Raises WrongUse where there is a file already."""
    if to.exists():
        raise WrongUse(f"{to} is there already", "name a file that is not: an old key opens old backups")
    write_whole(to, _fernet().generate_key() + b"\n")


def read_key(file: Path) -> "Fernet":
    """The key of a file. Raises WrongUse where it is none, or others can read it."""
    try:
        if file.stat().st_mode & ANYBODY_ELSE:
            raise WrongUse(f"others can read the key {file}", f"chmod go-rwx {file}")
        return _fernet()(file.read_bytes().strip())  # type: ignore[no-any-return]
    except OSError as problem:
        raise WrongUse(f"the key {file} cannot be read: {problem.strerror}", "name the file with --key") from problem
    except ValueError as problem:
        raise WrongUse(f"{file} holds no key", "gramrise backup --new-key FILE writes one") from problem


def _fernet() -> Any:
    from cryptography.fernet import Fernet  # here: it is costly to load, and seldom needed

    return Fernet


def is_sealed(file: Path) -> bool:
    """Whether a file says of itself that it is sealed."""
    with file.open("rb") as content:
        return content.read(len(FIRST_LINE)) == FIRST_LINE


def seal(plain: Path, to: Path, key: "Fernet") -> None:
    """Writes a sealed copy of a file and its check sum; it has its name only when both are whole."""
    growing = to.with_name(f"{to.name}.growing")
    sealing = secrets.token_bytes(SEALING_BYTES)
    try:
        handle = os.open(growing, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as out:
            out.write(FIRST_LINE)
            for number, (piece, last) in enumerate(_pieces(plain)):
                head = sealing + number.to_bytes(NUMBER_BYTES, "big") + bytes([last])
                out.write(key.encrypt(head + piece) + b"\n")
            out.flush()
            os.fsync(out.fileno())
        write_checksum(growing, to)
        os.replace(growing, to)
    except BaseException:
        growing.unlink(missing_ok=True)
        raise


def _pieces(plain: Path) -> Iterator[tuple[bytes, bool]]:
    with plain.open("rb") as content:
        piece = content.read(PIECE_BYTES)
        while True:
            after = content.read(PIECE_BYTES)
            yield piece, not after
            if not after:
                return
            piece = after


def unseal(sealed: Path, to: Path, key: "Fernet") -> None:
    """Writes the file that was sealed. Raises CouldNotRun where the key is another or a byte was changed."""
    growing = to.with_name(f"{to.name}.growing")
    try:
        handle = os.open(growing, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as out:
            for piece in _opened(sealed, key):
                out.write(piece)
        os.replace(growing, to)
    finally:
        growing.unlink(missing_ok=True)


def _opened(sealed: Path, key: "Fernet") -> Iterator[bytes]:
    from cryptography.fernet import InvalidToken

    with sealed.open("rb") as content:
        content.read(len(FIRST_LINE))
        sealing, number, last = None, 0, False
        while line := content.readline(LONGEST_TOKEN):
            try:
                told = key.decrypt(line.strip())
            except InvalidToken as wrong:
                raise _not_opened(sealed) from wrong
            sealing = sealing or told[:SEALING_BYTES]
            head = sealing + number.to_bytes(NUMBER_BYTES, "big")
            if last or told[: _HEAD - 1] != head:
                raise _not_opened(sealed)
            number, last = number + 1, bool(told[_HEAD - 1])
            yield told[_HEAD:]
        if not last:
            raise _not_opened(sealed)


def _not_opened(sealed: Path) -> CouldNotRun:
    return CouldNotRun(
        f"{sealed.name} cannot be opened: it was sealed with another key, or it is not whole; nothing was changed",
        "name the key it was sealed with, or another backup",
        "backup_sealed",
    )
