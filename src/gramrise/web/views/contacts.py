"""Whom to call, with the number to be touched."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

# Six digits and more, with what people write between them: our choice, so that no house number becomes one.
_NUMBER: Final = re.compile(r"\+?\d(?:[\s()/.-]{0,3}\d){5,}")


@dataclass(frozen=True, slots=True)
class Contact:
    """A contact as it was written: the words before its number, the number, the words behind; `address` dials it."""

    before: str
    number: str
    behind: str
    address: str


def called(contacts: Iterable[str]) -> tuple[Contact, ...]:
    """Contacts with their first telephone number found; without one all of it stands in `before`."""
    return tuple(_contact(text) for text in contacts)


def _contact(text: str) -> Contact:
    found = _NUMBER.search(text)
    if found is None:
        return Contact(text, "", "", "")
    dialled = re.sub(r"[^\d+]", "", found.group())
    return Contact(text[: found.start()], found.group(), text[found.end() :], f"tel:{dialled}")
