"""What every part of the weekly view shares: frozen, and its text as a page can show it."""

from typing import Final
from unicodedata import category

from pydantic import BaseModel, ConfigDict, field_validator

# Marks that embed, override or isolate a direction of writing (Unicode Bidirectional Algorithm, UAX 9, section 2).
TURNING: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


class Part(BaseModel):
    """A part of the view. Text from logs and names is kept as far as it can be shown."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    @field_validator("*", mode="before")
    @classmethod
    def _shown(cls, value: object) -> object:
        if isinstance(value, str):
            return showable(value)
        if isinstance(value, dict):
            return {key: showable(told) if isinstance(told, str) else told for key, told in value.items()}
        if isinstance(value, tuple) and value and isinstance(value[0], str):
            return tuple(showable(told) if isinstance(told, str) else told for told in value)
        return value


def showable(text: str) -> str:
    """The text without what no page can show or what turns a page about.

    Control characters become spaces; lone halves of letters, letters that do not exist, and marks that turn the
    direction of all that follows are left out.
    """
    if text.isprintable():
        return text
    kept = (" " if category(letter) == "Cc" else letter for letter in text if category(letter) not in ("Cs", "Cn"))
    return "".join(letter for letter in kept if letter not in TURNING)
