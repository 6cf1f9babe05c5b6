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

_BELOW_ZERO = re.compile(r"[:,=]\s?[-\u2212\u2013]\s?\d")
_PIECE = r"(?: [^\W\d_]{1,20})"
_COUNT = rf"(?P<left>\d{{1,4}}){_PIECE}?"


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
    words = context.words
    said = "" if _BELOW_ZERO.search(text) else _plain(text, words)
    only = "|".join(map(re.escape, sorted(words.listed("containers", "only"))))
    # 'Sporttasche: noch 7 Stück': what is still in it, never what was given.
    still, in_it = _says_still(text, words), rf"(?:(?:{only}) )?(?P<left>\d{{1,4}}){_PIECE}{{0,2}}"
    for container in sorted(context.containers, key=len, reverse=True):
        name, left = re.escape(_plain(container, words)), _left_words(words)
        forms = (rf"{name} {_COUNT} (?:{left})", rf"{name} (?:{left}) {_COUNT}", rf"{_COUNT} (?:{left}) {name}")
        for form in (*forms, *((rf"{name} {in_it}", rf"{in_it} {name}") if still else ())):
            found = re.fullmatch(form, said)
            if found:
                return container, int(found["left"])
    return None


def _says_still(text: str, words: HeaderWords) -> bool:
    return not words.listed("containers", "still").isdisjoint(re.findall(r"\w+", folded(text)))


def _plain(text: str, words: HeaderWords) -> str:
    """Folded, without marks and the little words that stand before a name."""
    beside = words.listed("containers", "beside")
    return " ".join(word for word in re.sub(r"[^\w]+", " ", folded(text)).split() if word not in beside)


def _left_words(words: HeaderWords) -> str:
    """The words that mean what is left, as a pattern; 'full', 'bought' and the like are asked about."""
    surely = words.listed("containers", "left")
    left = [*words.amounts[LEFT_OVER[0]], *(word for word in words.amounts[LEFT_OVER[1]] if word in surely)]
    return "|".join(re.escape(_plain(word, words)) for word in sorted(left, key=len, reverse=True))
