"""Text from outside (names of files, sources, remarks) made safe to show: what steers a terminal becomes visible."""

import unicodedata
from typing import Final

_STEERING: Final = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
# Joiners that words of some languages and pictures need, and the soft hyphen; none of them steers anything.
_HARMLESS: Final = {"\u200c", "\u200d", "\u00ad"}


def printable(name: str) -> str:
    """A name on one line: control marks, marks of direction and bytes that are no text are written as escapes."""
    return name if name.isascii() and name.isprintable() else "".join(map(_shown, name))


def for_terminal(text: str) -> str:
    """As `printable`, for text of several lines."""
    return text if text.isascii() and text.isprintable() else "\n".join(map(printable, text.split("\n")))


def _shown(mark: str) -> str:
    if mark in _HARMLESS or unicodedata.category(mark) not in _STEERING:
        return mark
    code = ord(mark)
    if 0xDC80 <= code <= 0xDCFF:  # a byte of a file's name that is no text, as the system's calls hand it over
        return f"\\x{code - 0xDC00:02x}"
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
