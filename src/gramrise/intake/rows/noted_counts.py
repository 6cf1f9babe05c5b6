"""Lines of a note that count a container the family has counted before: '16:10 school tin: 7 left'.

A container that is not known is asked about as before. A line without a time was counted when the note was saved, where
the note is read within a night of that; else it is set aside like any line without a time.
"""

import re
from datetime import datetime, timedelta

from gramrise.domain.counts import NotedCount
from gramrise.intake.cells import LEFT_OVER
from gramrise.intake.context import ReadContext
from gramrise.intake.rows.dose_entries import DoseEntry
from gramrise.intake.words import HeaderWords, folded

# Of the words that may mean what is left those that mean nothing else beside the name of a container. 'Full', 'bought'
# and the like are asked about.
_LEFT = frozenset({"left", "rest", "reste", "restes", "resto", "counted", "gezahlt", "gezaehlt"})
_LITTLE = frozenset({"in", "im", "the", "der", "dem", "still", "now", "noch", "jetzt", "are", "sind", "have", "has"})
_STILL = frozenset({"still", "noch"})
_STILL_COUNT = r"(?:nur |only )?(?P<left>\d{1,4})(?: [^\W\d_]{1,20}){0,2}"
_BELOW_ZERO = re.compile(r"[:,=]\s?[-\u2212\u2013]\s?\d")
_COUNT = r"(?P<left>\d{1,4})(?: [^\W\d_]{1,20})?"


def timed_counts(entries: list[DoseEntry], context: ReadContext) -> tuple[list[DoseEntry], list[NotedCount]]:
    """Entries that say what was given, and counts of known containers."""
    given, counts = [], []
    for entry in entries:
        said = count_said(entry.text, context)
        if said is None:
            given.append(entry)
        else:
            counts.append(NotedCount(said[0], entry.at_utc, said[1]))
    return given, counts


def untimed_counts(text: str, context: ReadContext, saved_at_utc: datetime) -> tuple[str, list[NotedCount]]:
    """The note without the lines that are counts alone, which keep their place, and those counts."""
    if not context.containers or context.now_utc - saved_at_utc > timedelta(hours=context.settings.note_hours):
        return text, []
    lines, counts = text.split("\n"), []
    for row, line in enumerate(lines):
        said = count_said(line, context)
        if said is not None:
            counts.append(NotedCount(said[0], saved_at_utc.replace(second=0, microsecond=0), said[1]))
            lines[row] = ""
    return "\n".join(lines), counts


def count_said(text: str, context: ReadContext) -> tuple[str, int] | None:
    """(container, pieces left) where a text says nothing else; None for any other text."""
    said = "" if _BELOW_ZERO.search(text) else _plain(text)
    still = bool(_STILL.intersection(re.findall(r"\w+", folded(text))))
    for container in sorted(context.containers, key=len, reverse=True):
        name, left = re.escape(_plain(container)), _left_words(context.words)
        forms = (rf"{name} {_COUNT} (?:{left})", rf"{name} (?:{left}) {_COUNT}", rf"{_COUNT} (?:{left}) {name}")
        # 'Sporttasche: noch 7 Stück': what is still in it, never what was given.
        for form in (*forms, *((rf"{name} {_STILL_COUNT}", rf"{_STILL_COUNT} {name}") if still else ())):
            found = re.fullmatch(form, said)
            if found:
                return container, int(found["left"])
    return None


def _plain(text: str) -> str:
    """Folded, without marks and the little words that stand before a name."""
    words = re.sub(r"[^\w]+", " ", folded(text)).split()
    return " ".join(word for word in words if word not in _LITTLE)


def _left_words(words: HeaderWords) -> str:
    """The words that mean what is left, as a pattern."""
    sure = [*words.amounts[LEFT_OVER[0]], *(word for word in words.amounts[LEFT_OVER[1]] if word in _LEFT)]
    return "|".join(re.escape(_plain(word)) for word in sorted(sure, key=len, reverse=True))
