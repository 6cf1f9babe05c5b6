"""Short words for the terminal; whole sentences for people live in the report's word files and the reasons' table."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gramrise.report import ScreenWords


def reason_words(reasons: list[str] | None, words: "ScreenWords") -> str:
    """': gap in readings, insulin near', or '' when no reason bites."""
    return "" if not reasons else ": " + ", ".join(words.say(f"reason_short.{code}") for code in reasons)
