"""Remarks beside an amount of glucose that speak of another amount or another time than the row they stand in."""

import re
from functools import lru_cache

from gramrise.intake.context import ReadContext
from gramrise.intake.words import folded

_SPOKEN = re.compile(r"\d+|[^\W\d_]+")
_BETWEEN = r"(?:[^ ]{1,30} ){0,2}"
_NUMBER = r"\d{1,4} "


def names_another_amount(text: str, context: ReadContext) -> bool:
    """Whether a remark says that another amount was given, none, or nobody knows how many.

    'Ate only 1', 'plus 10 ml', 'should be 3', 'nicht 2 sondern 3', 'did not eat it', 'die Haelfte'.
    """
    words = context.words
    plain = _any_of(words.amounts["remark_harmless"]).sub(" ", f" {' '.join(_SPOKEN.findall(folded(text)))} ")
    spoken = plain.split()
    numbered = any(word.isdigit() or word in words.numbers for word in spoken)
    if numbered and _folded(words.amounts["remark_changes"]).intersection(spoken):
        return True
    padded = f" {' '.join(spoken)} "
    not_eaten = _not_eaten(words.amounts["negation"], words.amounts["remark_eaten"])
    other = _any_of(words.amounts["remark_said"] + words.amounts["summed_or_meant"])
    return bool(other.search(padded) or not_eaten.search(padded))


def names_another_time(text: str, context: ReadContext) -> bool:
    """Whether a remark says that it was at another time of day, 'war um 1:10', or on another day, 'yesterday'."""
    amounts, spoken = context.words.amounts, _SPOKEN.findall(folded(text))
    if _any_of(amounts["remark_time"], _NUMBER).search(f" {' '.join(spoken)} "):
        return True
    left = " ".join(word for word in spoken if word not in _folded(amounts["remark_was"]))
    return left in _folded(amounts["remark_day"])


@lru_cache(maxsize=8)
def _folded(entries: tuple[str, ...]) -> frozenset[str]:
    return frozenset(folded(entry) for entry in entries)


@lru_cache(maxsize=8)
def _any_of(phrases: tuple[str, ...], behind: str = "") -> re.Pattern[str]:
    said = "|".join(re.escape(folded(phrase)) for phrase in phrases)
    return re.compile(rf" (?:{said}) {behind}")


@lru_cache(maxsize=8)
def _not_eaten(negation: tuple[str, ...], eaten: tuple[str, ...]) -> re.Pattern[str]:
    """A negation, then a word for eating close by, or a number: 'did not eat', 'nicht 2'; also before a name's end."""
    no, ate = ("|".join(re.escape(folded(word)) for word in words) for words in (negation, eaten))
    return re.compile(rf" (?:{no}|didn t|wasn t|never|nie) (?:{_BETWEEN}(?:{ate}) |\d{{1,3}} )")
