"""Amounts of glucose as people write them: '3 pieces', '15 ml', '1/2 bottle', '4 tabs + 10 mL', '3 St. Traubenzucker'.

Nothing is guessed: an amount nobody could mean for certain keeps its number, has no grams and becomes a question.
"""

import re
from dataclasses import dataclass, field
from functools import cache

from gramrise.domain.sources import AmountUnit, Form, Source
from gramrise.intake.figures import figure
from gramrise.intake.words import HeaderWords, folded

_TOKEN = re.compile(r"\d+ \d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?|[^\W\d_]+|[+&×*?~=-]")
_CLAUSE = re.compile(r"[;:()\[\]!]|,(?!\d)|\.(?!\d)")
_CLOCK_TIME = re.compile(r"\b\d{1,2}(?::|h(?=\d))\d{2}\b")
_RANGE = re.compile(r"\d\s*(?:-|–|bis|to|a|à)\s*\d")
_SIGNS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "×": " x ", "·": " x "}


@dataclass(frozen=True, slots=True)
class Given:
    """One amount of one source. `grams` is anhydrous glucose, None where amount or strength is unknown."""

    source: str
    form: Form
    amount: float | None
    unit: str  # piece | mL | g | ''
    grams: float | None
    may_be_weaker: bool


@dataclass(frozen=True, slots=True)
class ReadAmount:
    """What one text says. No `given` and no `question`: it speaks of no glucose given."""

    given: tuple[Given, ...] = ()
    remarks: tuple[str, ...] = ()  # mixed_with_food, vomited, time_doubtful
    happenings: tuple[str, ...] = ()  # food, activity, illness, glucagon, vomited
    question: str = ""  # bare_amount | which_source | unknown_source | no_amount | unclear_amount | bottle_size
    about_word: str = ""  # the word the question is about


@dataclass(frozen=True, slots=True)
class _Chunk:
    """The words between two joining words."""

    numbers: list[float] = field(default_factory=list)
    unit: str = ""
    source: Source | None = None
    weak: bool = False  # the source is meant by a word that counts anything: 'pieces'
    several: bool = False  # more than one source is meant by the words
    generic: bool = False  # only a general word for glucose
    counted: str = ""  # an unknown word that stands where the counted thing stands
    strange: bool = False  # an unknown word before the number: the number is its own
    food: bool = False

    @property
    def speaks_of_glucose(self) -> bool:
        return bool(self.unit or self.source or self.several or self.generic)


def read_amount(text: str, sources: tuple[Source, ...], words: HeaderWords, named: Source | None = None) -> ReadAmount:
    """What a text says about glucose given.

    text     as written, any of the languages of header_words.toml
    sources  the person's sources on that day
    named    the source, where another column names it: then a bare number counts its own unit
    """
    return _Reader(sources, words, named).read(text)


def grams_alone(grams: float, form: Form) -> Given:
    """Glucose logged as grams of nothing in particular: taken as printed."""
    return Given("", form, grams, AmountUnit.GRAM.value, grams, True)


def of_source(source: Source, amount: float, unit: AmountUnit) -> Given:
    """An amount of a known source, in a unit it is counted in."""
    return Given(source.name, source.form, amount, unit.value, source.grams(amount, unit), source.may_be_weaker)


def source_named(text: str, sources: tuple[Source, ...]) -> Source | None:
    """The one source that a name means, by its own or its other names; None where none or several do."""
    found = [source for source in sources if any(_same(text, name) for name in (source.name, *source.other_names))]
    return found[0] if len(found) == 1 else None


def form_named(text: str, words: HeaderWords) -> Form:
    """The form a word means; unknown where it means none."""
    for form in (Form.TABLET, Form.LIQUID, Form.GEL):
        if folded(text) in {folded(word) for word in words.forms[form.value]}:
            return form
    return Form.UNKNOWN


def _same(one: str, other: str) -> bool:
    return [_stem(word) for word in folded(one).split()] == [_stem(word) for word in folded(other).split()]


@cache
def _stem(word: str) -> str:
    """A word without the endings of plurals, enough to match 'tablets' with 'tablet'."""
    for ending in ("en", "es", "n", "s"):
        if len(word) - len(ending) >= 4 and word.endswith(ending):
            return word[: -len(ending)]
    return word


@cache
def _set(*entries: str) -> frozenset[str]:
    return frozenset(_stem(folded(entry)) for entry in entries)


class _Reader:
    def __init__(self, sources: tuple[Source, ...], words: HeaderWords, named: Source | None) -> None:
        self.sources, self.words, self.named = sources, words, named
        kinds = ("piece", "ml", "gram", "bottle", "joining", "filler", "food", "half", "unsure", "closing", "negation")
        self.kinds = {kind: _set(*words.amounts[kind]) for kind in kinds}
        self.numbers = words.numbers

    def read(self, text: str) -> ReadAmount:
        for sign, written in _SIGNS.items():
            text = text.replace(sign, written)
        plain = " ".join(folded(text).split())
        happenings = self._happenings(plain)
        doubtful_time = bool(_CLOCK_TIME.search(plain))
        plain = _CLOCK_TIME.sub(" ", plain)
        remarks = tuple(
            code
            for code, holds in (
                ("mixed_with_food", "food" in happenings),
                ("vomited", "vomited" in happenings),
                ("time_doubtful", doubtful_time),
            )
            if holds
        )
        chunks = [self._chunk(tokens) for tokens in self._chunks(plain)]
        negated = any(_stem(word) in self.kinds["negation"] for word in re.findall(r"[a-z]+", plain))
        if negated and not any(chunk.numbers for chunk in chunks):
            return ReadAmount((), remarks, happenings)
        unclear = negated or bool(_RANGE.search(plain)) or "?" in plain
        found = self._judge(chunks, unclear)
        return ReadAmount(found.given, remarks, happenings, found.question, found.about_word)

    def _happenings(self, plain: str) -> tuple[str, ...]:
        """Which other things the words speak of."""
        kinds = ("food", "activity", "illness", "glucagon", "vomited")
        padded = f" {re.sub(r'[^a-z]+', ' ', plain)} "
        stems = {_stem(word) for word in padded.split()}
        own = {_stem(folded(part)) for source in self.sources for name in (source.name, *source.other_names)
               for part in name.split()}  # fmt: skip
        spoken = []
        for kind in kinds:
            listed = [folded(word) for word in self.words.amounts[kind]]
            single = {_stem(word) for word in listed if " " not in word} - own
            if single & stems or any(f" {word} " in padded for word in listed if " " in word):
                spoken.append(kind)
        return tuple(spoken)

    def _chunks(self, plain: str) -> list[list[str]]:
        """Tokens between joining words and marks. 'One and a half' is one number."""
        chunks: list[list[str]] = []
        for clause in _CLAUSE.split(plain):
            chunk: list[str] = []
            for token in _TOKEN.findall(clause):
                if _stem(token) in self.kinds["joining"] and chunk:
                    chunks.append(chunk)
                    chunk = []
                else:
                    chunk.append(token)
            if chunk:
                chunks.append(chunk)
        return self._halves(chunks)

    def _halves(self, chunks: list[list[str]]) -> list[list[str]]:
        merged: list[list[str]] = []
        for chunk in chunks:
            bare = [token for token in chunk if self.numbers.get(token) != 1.0]
            if merged and len(bare) == 1 and _stem(bare[0]) in self.kinds["half"]:
                wholes = [at for at, token in enumerate(merged[-1]) if self._whole(token) is not None]
                if len(wholes) == 1:  # 'un comprimé et demi'
                    at = wholes[0]
                    merged[-1] = [
                        *merged[-1][:at],
                        f"{(self._whole(merged[-1][at]) or 0) + 0.5}",
                        *merged[-1][at + 1 :],
                    ]
                    continue
            before = figure(merged[-1][-1]) if merged else None
            if before is None and merged:
                before = self.numbers.get(merged[-1][-1])
            if merged and before is not None and bare and _stem(bare[0]) in self.kinds["half"]:
                merged[-1] = [*merged[-1][:-1], f"{before + 0.5}", *bare[1:]]
            else:
                merged.append(chunk)
        return merged

    def _whole(self, token: str) -> float | None:
        """A whole number in figures or words."""
        return figure(token) if token.isdigit() else self.numbers.get(token)

    def _chunk(self, tokens: list[str]) -> _Chunk:
        source, several, used = self._source_in(tokens)
        numbers: list[float] = []
        unit = counted = ""
        generic = strange = food = closed = False
        weak = bool(used) and all(self._unit(_stem(tokens[at])) for at in used)
        for at, token in enumerate(tokens):
            stem = _stem(token)
            value = figure(token)
            if value is None and (token in self.numbers or stem in self.kinds["half"]):
                follows = at + 1 < len(tokens)
                value = self.numbers.get(token, 0.5) if follows else None
                beside = {_stem(tokens[near]) for near in (at - 1, at + 1) if 0 <= near < len(tokens)}
                if value == 1.0 and beside & self.kinds["half"]:
                    continue  # 'a half', 'half a'
            if value is not None:
                numbers.append(value)
            elif at in used:
                continue
            elif named_unit := self._unit(stem):
                unit = unit or named_unit
            elif stem in self.kinds["food"]:
                food = True
            elif stem in self.kinds["closing"]:
                closed, strange = True, strange or not numbers
            elif stem in self.kinds["unsure"] or not token.isalpha():
                continue
            elif stem in self.kinds["filler"]:
                generic = generic or stem in _GENERIC
            elif numbers and not (counted or generic or closed) and (source is None or weak):
                counted = token
            elif not numbers:
                strange = True
        return _Chunk(numbers, unit, source, weak, several, generic, counted, strange, food)

    def _unit(self, stem: str) -> str:
        for kind in ("piece", "ml", "gram", "bottle"):
            if stem in self.kinds[kind]:
                return kind
        return ""

    def _source_in(self, tokens: list[str]) -> tuple[Source | None, bool, set[int]]:
        """The source whose name, own or other, is the longest found among the tokens."""
        stems = [_stem(token) for token in tokens]
        best: list[Source] = []
        longest, used = 0, set[int]()
        for source in self.sources:
            for name in (source.name, *source.other_names):
                wanted = [_stem(word) for word in folded(name).split()]
                at = next((i for i in range(len(stems)) if wanted and stems[i : i + len(wanted)] == wanted), None)
                if at is None or len(wanted) < longest:
                    continue
                if len(wanted) > longest:
                    best, longest, used = [], len(wanted), set(range(at, at + len(wanted)))
                if source not in best:
                    best.append(source)
        return (best[0], False, used) if len(best) == 1 else (None, bool(best), used)

    def _judge(self, chunks: list[_Chunk], unclear: bool) -> ReadAmount:
        """The chunks put together: every amount clear, or one question about the text."""
        given: list[Given] = []
        question = about = ""
        bare: list[_Chunk] = []
        for chunk in chunks:
            if chunk.food and chunk.source is None and not chunk.generic:
                continue
            if chunk.counted and self.named is None:
                question, about = question or "unknown_source", about or chunk.counted
                continue
            if not chunk.speaks_of_glucose and not (self.named and chunk.numbers and not chunk.strange):
                bare += [chunk] if chunk.numbers else []
                continue
            read, asked = self._given(chunk)
            given.append(read)
            question = question or asked
        if not question and (unclear and (given or bare)):
            question = "unclear_amount"
        elif not question and bare and (not given or any(not chunk.strange for chunk in bare)):
            question = "bare_amount"
        if bare and not given and question == "bare_amount" and all(chunk.strange for chunk in bare):
            return ReadAmount()  # a number that belongs to other words
        if question and not given and bare:
            amount = bare[0].numbers[0] if len(bare) == 1 and len(bare[0].numbers) == 1 else None
            given = [Given("", Form.UNKNOWN, amount, "", None, False)]
        if question and not given:
            numbers = [number for chunk in chunks for number in chunk.numbers]
            given = [Given("", Form.UNKNOWN, numbers[0] if len(numbers) == 1 else None, "", None, False)]
        if question == "unclear_amount":
            given = [Given(one.source, one.form, None, "", None, one.may_be_weaker) for one in given]
        given = [one for one in given if one.amount is None or one.amount > 0]
        return ReadAmount(tuple(given), question=question if given else "", about_word=about)

    def _given(self, chunk: _Chunk) -> tuple[Given, str]:
        """One chunk that speaks of glucose, and the question it leaves open."""
        source = chunk.source or self.named
        amount = self._amount(chunk)
        form = source.form if source is not None else Form.UNKNOWN
        name = source.name if source is not None else ""
        weaker = source.may_be_weaker if source is not None else False
        unit = {"piece": AmountUnit.PIECE, "ml": AmountUnit.ML, "gram": AmountUnit.GRAM}.get(chunk.unit)
        if amount is None:
            asked = "unclear_amount" if chunk.numbers else "no_amount"
            return Given(name, form, None, "", None, weaker), asked
        if chunk.unit == "bottle":
            return self._bottles(amount, source)
        if unit is AmountUnit.GRAM:
            given = of_source(source, amount, unit) if source else grams_alone(amount, Form.UNKNOWN)
            return given, ""
        return self._by_unit(amount, unit, chunk) if source is None else self._counted(amount, unit, source)

    def _counted(self, amount: float, unit: AmountUnit | None, source: Source) -> tuple[Given, str]:
        """So many of a known source, in its own unit or in none."""
        asked = ""
        if unit is not None and unit is not source.unit:
            asked = "unclear_amount"
        elif unit is None and self.named is None and source.unit is not AmountUnit.PIECE:
            asked = "bare_amount"  # 15 of a liquid: mL, or grams?
        if not asked:
            return of_source(source, amount, source.unit), ""
        return Given(source.name, source.form, amount, unit.value if unit else "", None, source.may_be_weaker), asked

    def _amount(self, chunk: _Chunk) -> float | None:
        if len(chunk.numbers) == 2 and chunk.unit == "gram":
            return chunk.numbers[0] * chunk.numbers[1]  # 3 x 4 g
        return chunk.numbers[0] if len(chunk.numbers) == 1 else None

    def _by_unit(self, amount: float, unit: AmountUnit | None, chunk: _Chunk) -> tuple[Given, str]:
        """No source named: the one that is counted in this unit, if there is only one."""
        if unit is None:
            return Given("", Form.UNKNOWN, amount, "", None, False), "bare_amount"
        fitting = [source for source in self.sources if source.unit is unit]
        if len(fitting) == 1 and not chunk.several:
            return of_source(fitting[0], amount, unit), ""
        asked = "which_source" if fitting else "unknown_source"
        return Given("", Form.UNKNOWN, amount, unit.value, None, False), asked

    def _bottles(self, amount: float, source: Source | None) -> tuple[Given, str]:
        """A bottle is a source of its own, counted in pieces; how much a bottle of anything else holds nobody said."""
        named_so = [
            one
            for one in ([source] if source is not None else self.sources)
            if one.unit is AmountUnit.PIECE
            and any(
                _stem(word) in self.kinds["bottle"]
                for name in (one.name, *one.other_names)
                for word in folded(name).split()
            )
        ]
        if len(named_so) == 1:
            return of_source(named_so[0], amount, AmountUnit.PIECE), ""
        name, form = (source.name, source.form) if source is not None else ("", Form.UNKNOWN)
        return Given(name, form, amount, "", None, source is not None and source.may_be_weaker), "bottle_size"


_GENERIC = frozenset(
    _stem(w)
    for w in ("glucose", "glukose", "glucosa", "dextrose", "traubenzucker", "sugar", "zucker", "sucre", "azucar")
)
