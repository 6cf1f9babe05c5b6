"""What became of a low, in a few words."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gramrise.report.screens import ScreenWords


def outcome_words(outcome: str, probability_treated: float | None, words: "ScreenWords") -> str:
    """'treated', or for a low without a log how likely it is that glucose was given."""
    told = words.say(f"outcome.{outcome}")
    if outcome != "nothing_logged" or probability_treated is None:
        return told
    return words.say("outcome.likely", outcome=told, percent=f"{100 * probability_treated:.0f}")
