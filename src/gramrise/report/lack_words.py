"""Why a band's number is not yet the person's own, in words: one sentence for screen, report and card."""

from collections.abc import Sequence
from typing import Protocol

from gramrise.report.words import Words


class Lacking(Protocol):
    """`Lack` of the estimate, or its view."""

    @property
    def code(self) -> str: ...

    @property
    def count(self) -> int: ...


def lack_words(lacks: Sequence[Lacking], band: str, words: Words) -> str:
    """'3 more treatments by day, a narrower range'; '' where nothing is lacking."""
    named = f"on_card.when.{band}"
    when = words.say(named if words.has(named) else "on_card.when.other")
    return ", ".join(words.say(f"on_card.lacks.{lack.code}", count=lack.count, when=when) for lack in lacks)


def still_learning(lacks: Sequence[Lacking], band: str, words: Words) -> str:
    """'still learning: it lacks 3 more treatments by day'."""
    lacking = lack_words(lacks, band, words)
    return words.say("on_card.still_learning", lacks=lacking) if lacking else words.say("on_card.state.thin")
