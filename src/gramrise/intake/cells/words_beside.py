"""Words that stand apart from an amount and make nothing given of it, or another thing: 'Plan: 3 tablets'."""

import re
from functools import lru_cache

from gramrise.intake.cells.word_stems import stem_of
from gramrise.intake.words import HeaderWords, folded

_WORD = re.compile(r"[^\W\d_]+")
_IN_BRACKETS = re.compile(r"[(\[]([^()\[\]]{1,60})[)\]]")
_LOOKED_AT = 3  # words behind 'for'; our choice: 'for her bad headache'
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


def is_plain_heading(line: str, own: frozenset[str], words: HeaderWords) -> bool:
    """Whether each word of a heading is known to leave what stands below as it is: 'Night:', 'Log of November:'."""
    of_logs = _stems((*words.whose["logs"], *words.columns["filler"], *words.columns["about"]))
    return _is_plain_label(line, own | of_logs, words)


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


def other_thing(plain: str, own: frozenset[str], known: frozenset[str], words: HeaderWords) -> str:
    """The word by which pieces may be none of glucose: a medicine, table sugar, or one nobody knows; '' where none is.

    Unknown words count in brackets and behind 'for': '(headache)', 'gegen Kopfweh'. Elsewhere they are of the day.

    own    stems of the names of the person's sources
    known  stems of the words that are judged elsewhere
    """
    spoken = _WORD.findall(plain)
    medicines = _stems(words.amounts["medicine"]) - own
    medicine = next((word for word in spoken if stem_of(word) in medicines), "")
    found = medicine or _sugar_counted(plain, own, words)
    if found:
        return found
    behind = _behind_for(words.amounts["for_what"])
    aside = [word for inner in _IN_BRACKETS.findall(plain) for word in _WORD.findall(inner)]
    aside += [word for said in behind.findall(plain) for word in _WORD.findall(said)[:_LOOKED_AT]]
    plainly = _plain(words)
    return next((word for word in aside if len(word) > 1 and not {stem_of(word)} & (known | own | plainly)), "")


def _sugar_counted(plain: str, own: frozenset[str], words: HeaderWords) -> str:
    """The word for table sugar that pieces are counted of, '2 pieces of sugar'; none where the sugar is low or free."""
    found = _pieces_of(words.amounts["piece"], words.columns["sugar"], words.amounts["closing"]).search(plain)
    return found[1] if found is not None and stem_of(found[1]) not in own else ""


@lru_cache(maxsize=8)
def _stems(entries: tuple[str, ...]) -> frozenset[str]:
    return frozenset(stem_of(folded(word)) for word in entries)


@lru_cache(maxsize=8)
def _behind_for(opening: tuple[str, ...]) -> re.Pattern[str]:
    said = "|".join(map(re.escape, opening))
    return re.compile(rf"\b(?:{said}) ([^\W\d_]{{1,30}}(?: [^\W\d_]{{1,30}}){{0,3}})")


@lru_cache(maxsize=8)
def _pieces_of(pieces: tuple[str, ...], sugars: tuple[str, ...], closing: tuple[str, ...]) -> re.Pattern[str]:
    counted, sugar, after = ("|".join(sorted({re.escape(folded(word)) for word in one}, key=len, reverse=True))
                             for one in (pieces, sugars, (*closing, "free", "frei")))  # fmt: skip
    return re.compile(rf"\b(?:{counted})\.? (?:of |de |d |du |von )?({sugar})\b(?! (?:{after})\b|-)")
