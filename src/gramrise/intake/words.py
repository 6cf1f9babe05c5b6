"""Words people use in tables and notes, and how two spellings of a word are compared."""

import re
import unicodedata
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Final

from pydantic import BaseModel, ConfigDict

from gramrise.config.settings import load

# Bounded: a bracket that is never closed must not be looked for over the rest of a long line from each of its places.
_BRACKETED = re.compile(r"[(\[{][^)\]}]{0,40}[)\]}]")
_NO_WORD = re.compile(r"[^0-9a-z]+")
# Letters that Unicode does not take apart into a plain letter and an accent.
_WHOLE = str.maketrans({"\u0142": "l", "\u00f8": "o", "\u00e6": "ae", "\u0153": "oe", "\u0111": "d", "\u0131": "i"})
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")


class HeaderWords(BaseModel):
    """The lists of config/header_words.toml."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    columns: dict[str, tuple[str, ...]]
    units: dict[str, tuple[str, ...]]
    range: dict[str, tuple[str, ...]]
    amounts: dict[str, tuple[str, ...]]
    forms: dict[str, tuple[str, ...]]
    rows: dict[str, tuple[str, ...]]
    clock: dict[str, tuple[str, ...]]
    states: dict[str, tuple[str, ...]]
    whose: dict[str, tuple[str, ...]]
    amount_headers: dict[str, tuple[str, ...]]
    containers: dict[str, tuple[str, ...]]
    calendar: dict[str, tuple[str, ...]]

    @cached_property
    def made(self) -> dict[object, object]:
        """What was made of these words and is needed again for every cell, by whoever made it."""
        return {}

    @cached_property
    def _of_lists(self) -> dict[tuple[str, str], frozenset[str]]:
        return {}

    def listed(self, table: str, key: str) -> frozenset[str]:
        """The words of one list as they are compared, folded once for all cells: `listed("whose", "labels")`."""
        kept = self._of_lists.get((table, key))
        if kept is None:
            entries: tuple[str, ...] = getattr(self, table)[key]
            kept = self._of_lists[table, key] = frozenset(map(folded, entries))
        return kept

    @property
    def numbers(self) -> dict[str, float]:
        """Number words: 'three' is 3."""
        return {
            folded(word): float(value) for word, value in (entry.rsplit(" ", 1) for entry in self.amounts["numbers"])
        }

    @cached_property
    def months(self) -> dict[str, int]:
        """Month names and their short forms: 'okt' is 10."""
        return {word: at for at, names in enumerate(self.clock["months"], 1) for word in names.split()}

    @cached_property
    def weekdays(self) -> dict[str, frozenset[int]]:
        """Weekdays and their short forms, Monday is 0: 'di' is Tuesday in German and Sunday in French."""
        told = [frozenset(folded(names).split()) for names in self.calendar["weekdays"]]
        return {
            word: frozenset(at for at, names in enumerate(told) if word in names) for word in frozenset().union(*told)
        }


def load_words(home: Path | None = None) -> HeaderWords:
    """Shipped words, overridden by [header_words] in the home's gramrise.toml."""
    return load("header_words", HeaderWords, home)


@cache
def shipped_words() -> HeaderWords:
    """The shipped words alone."""
    return load_words()


# Words before a clock time, as parts of a pattern.
TIME_WORDS: Final = r"um|gegen|at|around|about|vers|à|a las"
# Words for days that are still to come, or that no clock time settles. 'heute morgen' is this morning.
OTHER_DAY_WORD: Final = (
    r"\b(?:vorgestern|day before yesterday|anteayer|avant-hier|tomorrow|übermorgen|demain|mañana"
    r"|(?<!heute )(?<!gestern )morgen"
    r"|(?:mon|tues|wednes|thurs|fri|satur|sun)days?|(?:mon|diens|donners|frei|sams|sonn)tags?|mittwochs?|sonnabends?"
    r"|lundi|mardi|mercredi|jeudi|vendredi|samedi|dimanche|lunes|martes|miércoles|jueves|viernes|sábado|domingo)\b"
)
# Our choice: words and ids are folded again and again, whole notes are not; so bounded, the cache holds some 10 MB.
_SHORT, _MOST_KEPT = 64, 65_536


def folded(text: str) -> str:
    """Lower case, without accents, blanks pressed together: 'Stück ' and 'stuck' are one."""
    return _folded_short(text) if len(text) <= _SHORT else _folded(text)


def _folded(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text.casefold().translate(_WHOLE))
    return " ".join("".join(mark for mark in plain if not unicodedata.combining(mark)).split())


_folded_short = lru_cache(maxsize=_MOST_KEPT)(_folded)


@lru_cache(maxsize=4096)
def header_key(cell: str) -> str:
    """A header cell as compared: folded, without a bracketed unit: 'Glucose (mg/dL)' is 'glucose'."""
    outside = _BRACKETED.sub(lambda found: " " if _is_unit(found.group()) else found.group(), _CAMEL.sub(" ", cell))
    return _NO_WORD.sub(" ", folded(outside)).strip() or _NO_WORD.sub(" ", folded(cell)).strip()


def _is_unit(bracketed: str) -> bool:
    """Whether brackets hold nothing but a unit: any other word in them counts as part of the header."""
    return folded(bracketed.strip("()[]{} ")).replace(" ", "") in _units()


@cache
def _units() -> frozenset[str]:
    units = shipped_words().units
    return frozenset(folded(entry).replace(" ", "") for entries in units.values() for entry in entries)


def header_words(cell: str) -> tuple[str, ...]:
    """The single words of a header cell outside brackets."""
    return tuple(header_key(cell).split())
