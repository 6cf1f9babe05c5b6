"""Words that stand apart from an amount and make nothing given of it, or another thing: 'Plan: 3 tablets'."""

import re

from gramrise.intake.cells.word_stems import stem_of
from gramrise.intake.words import HeaderWords, folded

_WORD = re.compile(r"[^\W\d_]+")
_MARKS = re.compile(r"[;()\[\]!]|,(?!\d)|\.(?!\d)")
# Lists whose words before a colon say when, where, to whom or of what an amount was given, or are judged elsewhere.
_SAID_OF_AMOUNTS = (
    *("piece", "ml", "gram", "bottle", "vessel", "half", "filler", "closing", "joining", "adding", "unsure", "form"),
    *("carbohydrate", "food", "activity", "illness", "glucagon", "vomited", "adult", "noticing", "noticed_child"),
    *("noticed_sensor", "eaten", "gave", "of_time", "left_over", "maybe_left_over", "not_of_glucose", "everyday"),
)
_SAID_OF_COLUMNS = (
    *("when", "date", "time_of_day", "glucose", "glucose_source", "value", "sensor", "finger", "given", "amount"),
    *("dose", "source", "form", "food", "activity", "note", "kind", "person", "noticed", "portion_of_day"),
    *("before", "after", "unit"),
)


def behind_odd_label(plain: str, own: frozenset[str], words: HeaderWords) -> str:
    """What stands behind the first colon with an unknown word before it; '' where there is none.

    own  stems of the names of the person's sources
    """
    begun = 0
    for at in (at for at, mark in enumerate(plain) if mark == ":"):
        if not _is_plain_label(_MARKS.split(plain[begun:at])[-1], own, words):
            return plain[at + 1 :]
        begun = at + 1
    return ""


def _is_plain_label(label: str, own: frozenset[str], words: HeaderWords) -> bool:
    """Whether each word of a label is known to leave an amount behind it as it is: 'low', 'Hypo', 'before bed'."""
    known = _plain(words)
    return all(stem_of(word) in known or stem_of(word) in own for word in _WORD.findall(label) if word != "s")


def _plain(words: HeaderWords) -> frozenset[str]:
    found = words.made.get("plain labels")
    if not isinstance(found, frozenset):
        lists = [
            *(words.amounts[kind] for kind in _SAID_OF_AMOUNTS),
            *(words.columns[kind] for kind in _SAID_OF_COLUMNS),
            *(words.clock[kind] for kind in ("am", "pm", "morning", "evening", "night", "noon", "months")),
            *(words.calendar["weekdays"], tuple(words.numbers), words.states["no_name"]),
        ]
        said = (word for entries in lists for entry in entries for word in _WORD.findall(folded(entry)))
        words.made["plain labels"] = found = frozenset(stem_of(word) for word in said)
    return found
