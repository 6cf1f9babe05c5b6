"""What our sources refuse or warn of, in a person's language. It stands in English where it is raised."""

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, date, datetime
from functools import cache
from typing import Final

from gramrise.domain.problems import TO_MEND
from gramrise.report.screens import screen_words
from gramrise.report.word_files import language_of, sentences_of

_ENGLISH: Final = "en"
# A person, a file, a place in it, what was found, how to mend it: our sentences lie no deeper in each other.
_DEEPEST: Final = 7
_MOST_PARTS: Final = 6  # our choice: a hostile name may look like hundreds
_VALUE: Final = re.compile(r"\{\d\}")
_MEND: Final = f" {TO_MEND}: "
# 'log.csv row 3, time: found 'x'; ' before what is wrong, the row and what was found both left out where there is none.
_PLACE: Final = re.compile(
    r"(?P<file>(?:(?!; )[^:]){1,200}?)(?: row (?P<row>\d+))?(?P<column>, [^:]{1,80})?: (?P<rest>.+)", re.S
)
_FOUND: Final = re.compile(r"found '(?P<found>.{0,200}?)'; (?P<rest>.+)", re.S)
# Nor does it hold a remedy: what stands behind that is said by itself.
_NO_PLACE: Final = rf"((?:(?!: |{re.escape(_MEND)}).)*?)"
# What a sentence ends with never holds its remedy, nor the full stop behind it: the other language may say it earlier.
_AT_THE_END: Final = rf"((?:(?!{re.escape(_MEND)}).)*?)(?<![^.]\.)"
_DAY: Final = re.compile(r"\d{4}-\d\d-\d\d")
# A time of the person's own clock, as sentences of the lower floors write it.
_TIME: Final = re.compile(r"[A-Z][a-z]{2} \d\d [A-Z][a-z]{2} \d{4} \d\d:\d\d")
_TIME_FORM: Final = "%a %d %b %Y %H:%M"
_DECIMAL: Final = re.compile(r"-?\d{1,15}\.\d{1,15}")
# Where the next of several sentences about rows begins.
_NEXT: Final = re.compile(r"(?<=[.?!]) (?=\S+ row \d+[,:])")


def in_language(told: str, language: str) -> str:
    """A sentence of ours in a language; what has no words there (a name, a value, a system's text) stays as it is."""
    return told if language_of(language) == _ENGLISH else _said(told.strip(), language_of(language)) or told


def _said(told: str, language: str, deep: int = 0) -> str | None:
    """The first of the ways to read it that knows its words; None: it is no sentence of ours.

    deep  how many readings this one lies within: a hostile name may look like sentences within sentences
    """
    if deep > _DEEPEST:
        return None
    for way in (_known, _closed, _several, _mended, _long, _placed, _parts):
        said = way(told, language, deep + 1)
        if said is not None:
            return said
    return None


def _known(told: str, language: str, deep: int) -> str | None:
    """A whole sentence of the word file, values put in; values that are words of ours are translated, too."""
    table = sentences_of(language)
    if told in table:
        return table[told]
    for pattern, quoted, words in _patterns(language):
        found = pattern.fullmatch(told)
        if found is not None:
            values = [
                value if in_quotes else _said(value, language, deep) or _written(value, language)
                for value, in_quotes in zip(found.groups(), quoted, strict=True)
            ]
            return words.format(*values)
    return None


@cache
def _patterns(language: str) -> tuple[tuple[re.Pattern[str], tuple[bool, ...], str], ...]:
    """Each sentence with values: its pattern, which values stand in quotes, its words. The most of words first."""
    ordered = sorted(sentences_of(language).items(), key=lambda each: -len(_VALUE.sub("", each[0])))
    made = []
    for english, words in ordered:
        if _VALUE.search(english):
            fixed = [re.escape(part) for part in _VALUE.split(english)]
            quoted = tuple(english[at.start() - 1 : at.start()] == "'" for at in _VALUE.finditer(english))
            # A sentence that begins with a value is not that of a file: its name and ': ' stand before another.
            first = _NO_PLACE if not fixed[0] else "(.*?)"
            between = [first] + ["(.*?)"] * (len(fixed) - 2)
            if not fixed[-1]:
                between[-1] = _AT_THE_END
            pattern = "".join(f"{way}{part}" for way, part in zip(between, fixed[1:], strict=True))
            made.append((re.compile(fixed[0] + pattern, re.DOTALL), quoted, words))
    return tuple(made)


def _written(value: str, language: str) -> str:
    """A date, a time with its weekday and a number with decimals as the language writes them; others as they stand."""
    if _DAY.fullmatch(value):
        with suppress(ValueError):  # 2026-02-31 was typed so
            return screen_words(language).day(date.fromisoformat(value))
    if _TIME.fullmatch(value):
        with suppress(ValueError):
            local = datetime.strptime(value, _TIME_FORM).replace(tzinfo=UTC)  # its clock is kept, whatever the zone
            return screen_words(language).time(local)
    return screen_words(language).pointed(value) if _DECIMAL.fullmatch(value) else value


def _closed(told: str, language: str, deep: int) -> str | None:
    return _then(_known, told[:-1], language, deep, lambda said: f"{said}.") if told.endswith(".") else None


def _several(told: str, language: str, deep: int) -> str | None:
    parts = _NEXT.split(told)
    return _all(parts, " ", language, deep) if len(parts) > 1 else None


def _mended(told: str, language: str, deep: int) -> str | None:
    what, between, mend = told.partition(_MEND)
    if not between:
        return None
    heading = screen_words(language).say("mend")
    said = _said(what, language, deep), _said(mend, language, deep)
    return None if said == (None, None) else f"{said[0] or what} {heading}: {said[1] or mend}"


def _placed(told: str, language: str, deep: int) -> str | None:
    place = _PLACE.fullmatch(told)
    if place is None:
        return None
    words = screen_words(language)
    where = place["file"] + ("" if place["row"] is None else " " + words.say("row", row=place["row"]))
    found = _FOUND.fullmatch(place["rest"])
    rest = found["rest"] if found else place["rest"]
    said = words.say("found", found=found["found"]) + "; " if found else ""
    return _then(_said, rest, language, deep, lambda known: f"{where}{place['column'] or ''}: {said}{known}")


def _long(told: str, language: str, deep: int) -> str | None:
    """A sentence of the word file that holds the mark between sentences, or a colon, itself, and what stands behind."""
    parts = told.split("; ")
    for cut in range(len(parts) - 1, 1, -1) if len(parts) <= _MOST_PARTS else ():
        head = sentences_of(language).get("; ".join(parts[:cut]))
        if head is not None:
            rest = "; ".join(parts[cut:])
            return f"{head}; {_said(rest, language, deep) or rest}"
    return None


def _parts(told: str, language: str, deep: int) -> str | None:
    parts = told.split("; ")
    return _all(parts, "; ", language, deep) if len(parts) > 1 else None


def _all(parts: list[str], between: str, language: str, deep: int) -> str | None:
    """All parts together; None where none of them is known."""
    said = [_said(part, language, deep) for part in parts]
    return between.join(each or part for each, part in zip(said, parts, strict=True)) if any(said) else None


def _then(
    way: Callable[[str, str, int], str | None], told: str, language: str, deep: int, made: Callable[[str], str]
) -> str | None:
    said = way(told, language, deep)
    return None if said is None else made(said)
