"""What the words and units of one label say: a header cell, the word of a kind column, a line above a table."""

import re
from dataclasses import dataclass
from functools import cache

from gramrise.intake.words import HeaderWords, folded

_CAMEL = re.compile(r"(?<=[a-z]{2})(?=[A-Z])")
_BRACKETED = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
_WORD = re.compile(r"[a-z][a-z0-9]*|(?<![0-9])[0-9]+[a-z]+")
_OTHER_LETTERS = re.compile(r"[^\W\d_a-z]+")  # of other scripts: none of their words is taught
_LEAST_PART = 3  # letters of a part of a joined word; our choice: shorter ones stand in any word by chance
_LONGEST_WORD = 60  # letters; our choice: no word joined of others is longer, and a link or a picture in a cell is none
_LONG_PART = 5  # of two short parts alone no word is joined
_LINKS = ("", "s", "n", "en", "e", "o")  # letters between the parts of joined words: Mahlzeit-en-bolus
_ENDINGS = ("s", "n", "en", "es", "e", "er", "a", "u", "i", "y", "ie", "em", "ow")
# Units that are also words or single letters count only in brackets, behind another word, or alone in their cell.
_WEAK = re.compile(r"[a-z]{1,3}|[a-z]{4,}")
_STRONG_KEYS = ("mg_dl", "mmol_l")


@dataclass(frozen=True, slots=True)
class Label:
    """`meanings` of its words, keys of `units` it names, and the words that nobody has taught us."""

    text: str
    meanings: frozenset[str]
    units: frozenset[str]
    unknown: tuple[str, ...]

    @property
    def unit(self) -> str:
        """The one unit it names; '' where it names none or several."""
        return next(iter(self.units)) if len(self.units) == 1 else ""


class _Vocabulary:
    def __init__(self, columns: dict[str, tuple[str, ...]], units: dict[str, tuple[str, ...]]) -> None:
        self.words: dict[str, set[str]] = {}
        for meaning, entries in columns.items():
            for entry in entries:
                self.words.setdefault(folded(entry), set()).add(meaning)
        self.units: dict[str, str] = {}
        for key, entries in units.items():
            for entry in entries:
                self.units.setdefault(_spaced(entry), key)
        strong = [name for name, key in self.units.items() if key in _STRONG_KEYS or not _WEAK.fullmatch(name)]
        either = "|".join(re.escape(name) for name in sorted(strong, key=len, reverse=True))
        self.strong = re.compile(rf"(?<![a-z0-9/%]){'(' + either + ')'}(?![a-z0-9/%])\.?")
        self.labels: dict[str, Label] = {}

    def label(self, text: str) -> Label:
        if text not in self.labels:
            if len(self.labels) > 50_000:
                self.labels.clear()
            self.labels[text] = self._read(text)
        return self.labels[text]

    def _read(self, text: str) -> Label:
        units: set[str] = set()
        plain = folded(text).replace("_", " ")
        plain = self._without_units(plain, units) if units or self.strong.search(plain) else plain
        if plain == folded(text).replace("_", " "):
            plain = self._without_units(folded(_CAMEL.sub(" ", text)).replace("_", " "), units)
        plain = _BRACKETED.sub(lambda found: self._bracketed(found, units), plain)
        odd = [piece for piece in plain.split() if "/" in piece.strip("/") and not self._all_words(piece)]
        plain = self._trailing(" ".join(piece for piece in plain.split() if piece not in odd), units)
        meanings: set[str] = set()
        unknown = list(odd)
        for word in _WORD.findall(plain):
            means = self.meaning(word)
            meanings |= means
            unknown += [] if means else [word]
        unknown += _OTHER_LETTERS.findall(plain)
        return Label(text, frozenset(meanings), frozenset(units), tuple(unknown))

    def _without_units(self, plain: str, units: set[str]) -> str:
        def taken(found: re.Match[str]) -> str:
            units.add(self.units[found[1]])
            return " "

        return self.strong.sub(taken, plain)

    def _bracketed(self, found: re.Match[str], units: set[str]) -> str:
        inner = found[1].strip()
        key = self.units.get(inner.rstrip("."))
        if key is None:
            return f" {inner} "
        units.add(key)
        return " "

    def _trailing(self, plain: str, units: set[str]) -> str:
        """A unit that is also a word, at the end of the label or behind a comma: 'carbohydrate g', 'Gewicht, kg'."""
        pieces = plain.replace(",", " ").replace(":", " ").split()
        last = pieces[-1].strip("-") if pieces else ""
        if last in self.units and not units:
            units.add(self.units[last])
            if len(pieces) > 1 and last not in self.words:
                pieces = pieces[:-1]
            elif last not in self.words:
                return ""
        return " ".join(pieces)

    def _all_words(self, piece: str) -> bool:
        return all(self.meaning(word) for word in _WORD.findall(piece)) and not any(mark.isdigit() for mark in piece)

    def meaning(self, word: str) -> frozenset[str]:
        """What one word means: itself, without the ending of a plural, or as a word joined of known ones."""
        known = self.words.get(word)
        if known is not None:
            return frozenset(known)
        if any(mark.isdigit() for mark in word):
            return (
                self.meaning(word.rstrip("0123456789")) if not word[0].isdigit() and word[-1].isdigit() else frozenset()
            )
        for ending in _ENDINGS:
            if word.endswith(ending) and len(word) - len(ending) > _LEAST_PART:
                stem = word.removesuffix(ending)
                if stem in self.words:
                    return frozenset(self.words[stem])
        parts = self._joined(word) if len(word) <= _LONGEST_WORD else None
        if not parts or (max(map(len, parts)) < _LONG_PART and min(map(len, parts)) <= _LEAST_PART):
            return frozenset()
        return frozenset().union(*(self.words[part] for part in parts))

    def _joined(self, word: str) -> tuple[str, ...] | None:
        """The known words of which a word is joined, the longest first part first."""
        if word == "":
            return ()
        for at in range(len(word), _LEAST_PART - 1, -1):
            if word[:at] not in self.words:
                continue
            for link in _LINKS:
                rest = word[at:].removeprefix(link)
                if not word[at:].startswith(link) or (not rest and link == "o"):
                    continue
                after = self._joined(rest)
                if after is not None:
                    return (word[:at], *after)
        return None


def _spaced(entry: str) -> str:
    return folded(entry).replace("_", " ")


@cache
def _vocabulary(
    columns: tuple[tuple[str, tuple[str, ...]], ...], units: tuple[tuple[str, tuple[str, ...]], ...]
) -> _Vocabulary:
    return _Vocabulary(dict(columns), dict(units))


def read_label(text: str, words: HeaderWords) -> Label:
    """What a label's words and units say."""
    return _vocabulary(tuple(words.columns.items()), tuple(words.units.items())).label(text.strip())


def unit_of_cell(cell: str, words: HeaderWords) -> str:
    """The key of the unit that a cell names and nothing else beside it; '' where it names none."""
    return _vocabulary(tuple(words.columns.items()), tuple(words.units.items())).units.get(
        _spaced(cell).strip(" ()[].")
    ) or ("" if not cell.strip() else _alone(read_label(cell, words)))


def _alone(label: Label) -> str:
    return label.unit if not label.meanings - {"filler", "unit"} and not label.unknown else ""


def unknown_words(text: str, words: HeaderWords) -> tuple[str, ...]:
    """The words of a text that nobody has taught us, names of months aside: they may be names of persons."""
    return tuple(word for word in read_label(text, words).unknown if word not in words.months)
