"""Dangerous lows in words, the gravest first."""

from gramrise.report.review.numbers.view import Dangers
from gramrise.report.words import Words

COUNTS = ("severe", "level_2", "prolonged", "unlogged_nights", "unnoticed")


def danger_words(dangers: Dangers, words: Words) -> str:
    """'1 low with glucagon; 4 below 54 (level 2); 3 nights without an entry'; '' where there is none."""
    return "; ".join(
        words.say(f"danger.{code}", count=getattr(dangers, f"{code}_n"), deep=words.level(54))
        for code in COUNTS
        if getattr(dangers, f"{code}_n")
    )
