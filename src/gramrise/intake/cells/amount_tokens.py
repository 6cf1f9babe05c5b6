"""The words of an amount as tokens: numbers, units, sources, food, and unknown words."""

import re
from dataclasses import dataclass, field
from functools import cache

from gramrise.domain.sources import AmountUnit, Form, Source
from gramrise.intake.cells.amount_forms import form_in, is_form
from gramrise.intake.cells.numbers import read_number
from gramrise.intake.cells.word_stems import GENERIC, stem_of
from gramrise.intake.words import HeaderWords, folded

_FRACTION = r"\d{1,9} \d{1,9}/\d{1,9}|\d{1,9}/\d{1,9}"
_NUMBER = rf"{_FRACTION}|\d{{1,9}}(?:[.,]\d{{1,9}})?"
_TOKEN = re.compile(_FRACTION + r"|\d+(?:[.,]\d+)?|[^\W\d_]+|[+&×*?~=-]")
_LETTERS = re.compile("[a-z]+")
_CLAUSE = re.compile(r"[;:()\[\]!]|,(?!\d)|\.(?!\d)")
CLOCK_TIME = re.compile(r"\b\d{1,2}(?::|h(?=\d))\d{2}\b")
# Marks between digits that no number has, a mark behind a blank, a letter in place of a digit: nobody knows which.
MISWRITTEN = re.compile(r"\d[.,;:'`]{2,9}\d|\d[;'`]\d|\d[.,]\d{1,9}[.,]\d|\s,\d|\d[oil]\b|\b[oil]\d")
# Beside a number of a column of amounts these make something else of it.
# '01.05.' is a day that a sheet made of 1.5.
OTHER_MEASURE = re.compile(r"[<>#^]\s?\d|\d{1,9}er\b|\d\s?[%‰°€$^]|\d[.,]\d{1,9}[.,](?!\d)")
RANGE = re.compile(r"\d\s{0,9}(?:-|–|bis|to|a|à|or|oder|ou|o)\s{0,9}\d")
# A mark before a number's first digit: '.5' and '-,5' lack their nought, behind a word it ends the word ('St.5').
_NO_NOUGHT = re.compile(r"(^|[\s(+~=-])\.(?=\d)|^([+~=-]?\s{0,3}),(?=\d)")
_BEHIND_A_WORD = re.compile(r"(?<=[^\W\d_])([.,])(?=\d)")
_GLUCAGON_NOT_GIVEN = re.compile(
    r" (?:no|not|kein|ohne|without|pas de|sin) glu[ck]agon | glu[ck]agon (?:is |was |lag |liegt |war )?"
    r"(?:ready|prepared|near|handy|bereit|griffbereit|vorbereitet|not|nicht|pret|listo) "
)
# A part that nobody divides a piece into: '3/5' is three of five.
PARTS_OF_MANY = re.compile(r"\d/(?!(?:2|3|4)(?!\d))\d")
_SIGNS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "×": " x ", "·": " x "}


@dataclass(frozen=True, slots=True)
class Chunk:
    """The words between two joining words."""

    numbers: list[float] = field(default_factory=list)
    unit: str = ""
    source: Source | None = None
    weak: bool = False  # the source is meant by a word that counts anything: 'pieces'
    several: bool = False  # more than one source is meant by the words
    generic: bool = False  # only a general word for glucose
    counted: str = ""  # an unknown word that stands where the counted thing stands
    strange: str = ""  # an unknown word before the number: it may be what was counted
    apart: bool = False  # some word stands before the number: a bare number belongs to it
    food: bool = False
    form: str = ""  # a word for a thing of which glucose is only a part: gel, syrup, tablet
    of_glucose: bool = False  # the words say that the amount is of glucose, not of that thing
    insulin: bool = False  # its number counts units of insulin
    multiplied: bool = False  # a word or sign says that its numbers are a product: '3 x 4 g'
    timed: bool = False  # its number counts minutes or hours
    loose: bool = False  # a word for a number ends it that counts nothing here: 'ate half', 'he ate two'
    left: str = ""  # left_over | maybe_left_over: it counts what is there, not what was given

    @property
    def unknown_thing(self) -> str:
        """An unknown word that may be what the number and unit are of, where no source of the person is named."""
        if self.counted or self.generic or (self.source is not None and not self.weak):
            return self.counted
        return self.strange if self.numbers and (self.unit or self.weak) else ""

    @property
    def speaks_of_glucose(self) -> bool:
        """Whether a unit, a source or a general word for glucose stands in it."""
        return bool(self.unit or self.source or self.several or self.generic)


@cache
def _set(*entries: str) -> frozenset[str]:
    return frozenset(stem_of(folded(entry)) for entry in entries)


ANY_WORDS = r"\ \*\ "  # of a phrase of the words, escaped: something may stand between
LEFT = ("left_over", "maybe_left_over")
OF_REMARKS = ("remark_", "changing_said", "not_of_glucose", "water", "after_a_time", "without", "vomited_some",
              "medicine", "for_what", "everyday", "more", "heading_plan")  # fmt: skip
NOTICED = ("noticed_child", "noticed_sensor", "adult", "noticing")


def plain_words(text: str) -> str:
    """A text as its words are compared: folded, fraction signs written out."""
    for sign, written in _SIGNS.items():
        text = text.replace(sign, written)
    plain = " ".join(folded(text).split())
    plain = _NO_NOUGHT.sub(lambda found: f"{found[1] or found[2] or ''}0.", plain)
    return _BEHIND_A_WORD.sub(r"\1 ", plain)


class AmountWords:
    """Tokenises one text and says what each word is, given a person's sources."""

    def __init__(self, sources: tuple[Source, ...], words: HeaderWords) -> None:
        self.sources, self.words = sources, words
        kinds = ("piece", "ml", "gram", "bottle", "vessel", "joining", "filler", "food", "half", "unsure", "closing",
                 "negation", "form", "carbohydrate")  # fmt: skip
        self.kinds = {kind: _set(*words.amounts[kind]) for kind in kinds}
        self.kinds["joining"] |= _set(*words.amounts["adding"])
        beside = [word for kind in (*LEFT, *NOTICED) for phrase in words.amounts[kind] for word in phrase.split()]
        self.beside = _set(*beside) - _set(*words.amounts["filler"])  # they end what was counted, as `closing` does
        self.not_given = words.amounts["not_given"]
        self.ml_each = {unit: float(ml) for unit, ml in (entry.split() for entry in words.amounts["volumes"])}
        units = "|".join(sorted(self.ml_each, key=len, reverse=True))
        self.volume = re.compile(rf"(?<![\d.,/])({_NUMBER}) {{0,3}}({units})(?![a-z])")
        # A single letter behind a number may be another word ('3 u. 2'); only U stands for units as a trade term.
        self.insulin = {folded(word) for word in words.units["insulin"] if len(word) > 1 or word == "u"}
        self.insulin_named = {folded(word) for word in words.columns["insulin"]}
        self.numbers = words.numbers
        self.changing = words.listed("amounts", "changing") | words.listed("amounts", "summed_or_meant")
        said = "|".join(re.escape(folded(phrase)) for phrase in words.amounts["changing_said"])
        self.changing_said = re.compile(rf" (?:{said.replace(ANY_WORDS, ' .{0,60}? ?')}) ")
        self.of_other_things, self.water, self.after_a_time = self._beside_it(words)
        self.denying, self.waters, self.behind_times = (
            frozenset(folded(word).split()[0] for kind in kinds for word in words.amounts[kind])
            for kinds in (("negation", "without"), ("water",), ("after_a_time",))
        )
        self.eaten, self.gave, self.adults = (
            {folded(word) for word in words.amounts[kind]} for kind in ("eaten", "gave", "adult")
        )
        self.vomited, self.vomited_some = (
            {folded(word) for word in words.amounts[kind]} for kind in ("vomited", "vomited_some")
        )
        lengths = "|".join(re.escape(folded(word)) for word in words.amounts["of_time"])
        self.duration = re.compile(rf"(?<![\d.,/])\d{{1,3}}\s{{0,2}}(?:{lengths})\b")
        self.more = words.listed("amounts", "more")
        # Stems of the names of the person's sources.
        self.own = frozenset(
            stem_of(word) for source in sources for name in source.names for word in folded(name).split()
        )
        self.of_each = {folded(word) for word in words.amounts["of_each"]}
        self.adding = {folded(word) for word in words.amounts["adding"]}
        self.product = frozenset(words.amounts["product"])
        self.of_time = frozenset(words.amounts["of_time"])
        # 'After 2 tablets' tells of those given before; 'after 15 min' only of a time.
        before, times = ("|".join(map(re.escape, words.amounts[kind])) for kind in ("of_before", "of_time"))
        self.of_before = re.compile(
            rf"\b(?:{before}) (?:(?:the|den|die|las|les) )?\d{{1,9}}(?:[.,]\d{{1,9}})?(?![\d.,:]| ?(?:{times}|uhr)\b)"
        )
        # Lists of remarks hold common words: 'be' of 'should be' is a measure beside a number.
        lists = (entries for kind, entries in words.amounts.items() if not kind.startswith(OF_REMARKS))
        listed = (word for entries in lists for entry in entries for word in entry.split())
        self.known = _set(*listed) - _set(*self.of_time)

    @staticmethod
    def _beside_it(words: HeaderWords) -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
        """What is said beside an amount and not of it: 'no insulin', 'a glass of water', '15 min later'."""

        def one_of(*entries: str) -> str:
            return "|".join(sorted((re.escape(folded(word)) for word in entries), key=len, reverse=True))

        amounts = words.amounts
        no = one_of(*amounts["negation"], *amounts["without"])
        things = one_of(*amounts["not_of_glucose"], *words.columns["insulin"], *amounts["food"], *amounts["activity"],
                        *amounts["illness"])  # fmt: skip
        vessels, waters, times = one_of(*amounts["vessel"]), one_of(*amounts["water"]), one_of(*amounts["of_time"])
        return (
            re.compile(rf"\b(?:{no})(?: (?:any|a|the|die|der|das|mehr|de))? (?:{things})\b"),
            re.compile(
                rf"\b(?:(?:\d{{1,4}}|a|an|one|ein|eine|einen|un|une|una) )?(?:(?:{vessels}|ml) )?(?:of |de |d )?"
                rf"(?:{waters})\b"
            ),
            re.compile(rf"\b\d{{1,3}} ?(?:{times}) (?:{one_of(*amounts['after_a_time'])})\b"),
        )

    def of_glucose_alone(self, plain: str) -> str:
        """The text without what was not there ('no insulin', 'kein Saft') and without the water it was drunk with."""
        spoken = set(_LETTERS.findall(plain))
        if self.denying & spoken:
            plain = self.of_other_things.sub(";", plain)
        if self.waters & spoken:
            plain = self.water.sub(";", plain)
        return self.after_a_time.sub(";", plain) if self.behind_times & spoken else plain

    def sorted_chunks(self, plain: str) -> list[Chunk]:
        """The text's chunks, each with its numbers, unit and source."""
        return [self.chunk(tokens) for tokens in self.chunks(plain)]

    def negated(self, plain: str) -> bool:
        """Whether the text says that something was not so, or was only planned, forgotten, refused or spat out."""
        padded = f" {' '.join(re.findall(r'[a-z]+', plain))} "
        if any(f" {folded(phrase)} " in padded for phrase in self.not_given):
            return True
        return any(stem_of(word) in self.kinds["negation"] for word in re.findall(r"[a-z]+", plain))

    def changed(self, plain: str) -> bool:
        """Whether words make another amount of it: offered, dropped, a third, twice, each; or tell of one before.

        Or of somebody else's: 'Papa 2 pieces eaten'.
        """
        words = re.findall(r"[a-z]+", plain)
        kept_in_part = self.vomited.intersection(words) and self.vomited_some.intersection(words)
        if kept_in_part or self.changing_said.search(f" {' '.join(words)} "):
            return True
        if self.adults.intersection(words) and self.eaten.intersection(words) and not self.gave.intersection(words):
            return True
        stems = {stem_of(word) for word in words} - self.kinds["half"]  # 'halbes Stueck' is half of one
        listed = self.changing & {*words, *stems}
        of_each = self.of_each.intersection(words) and sum(mark.isdigit() for mark in plain.split()) < 2
        return bool(listed or of_each or self.of_before.search(plain))

    def again(self, plain: str) -> bool:
        """Whether words tell of a further amount that may have been at another time: 'and at 19:30 another'."""
        return bool(self.more.intersection(_LETTERS.findall(plain)))

    def joined(self, plain: str) -> bool:
        """Whether a sign or word adds amounts up."""
        return bool(self.adding.intersection(plain.split())) or "+" in plain

    def happenings(self, plain: str) -> tuple[str, ...]:
        """Which other things the words speak of."""
        kinds = ("food", "activity", "illness", "glucagon", "vomited")
        padded = f" {re.sub(r'[^a-z]+', ' ', plain)} "
        stems = {stem_of(word) for word in padded.split()}
        spoken = []
        for kind in kinds:
            listed = [folded(word) for word in self.words.amounts[kind]]
            single = {stem_of(word) for word in listed if " " not in word} - self.own
            if single & stems or any(f" {word} " in padded for word in listed if " " in word):
                spoken.append(kind)
        if "glucagon" in spoken and _GLUCAGON_NOT_GIVEN.search(padded):
            spoken.remove("glucagon")
        return tuple(spoken)

    def chunks(self, plain: str) -> list[list[str]]:
        """Tokens between joining words and marks. 'One and a half' is one number, '2 (half)' is none."""
        return [chunk for clause in _CLAUSE.split(plain) for chunk in self._halves(self._joined_in(clause))]

    def _joined_in(self, clause: str) -> list[list[str]]:
        """The tokens of a clause, cut at its joining words."""
        chunks: list[list[str]] = []
        if clause:
            chunk: list[str] = []
            for token in _TOKEN.findall(clause):
                if stem_of(token) in self.kinds["joining"] and chunk:
                    chunks.append(chunk)
                    chunk = []
                else:
                    chunk.append(token)
            if chunk:
                chunks.append(chunk)
        return chunks

    def _halves(self, chunks: list[list[str]]) -> list[list[str]]:
        merged: list[list[str]] = []
        for chunk in chunks:
            bare = [token for token in chunk if self.numbers.get(token) != 1.0]
            if merged and len(bare) == 1 and stem_of(bare[0]) in self.kinds["half"]:
                wholes = [at for at, token in enumerate(merged[-1]) if self._whole(token) is not None]
                if len(wholes) == 1:  # 'un comprimé et demi'
                    at = wholes[0]
                    merged[-1] = [
                        *merged[-1][:at],
                        f"{(self._whole(merged[-1][at]) or 0) + 0.5}",
                        *merged[-1][at + 1 :],
                    ]
                    continue
            before = read_number(merged[-1][-1]) if merged else None
            if before is None and merged:
                before = self.numbers.get(merged[-1][-1])
            if merged and before is not None and bare and stem_of(bare[0]) in self.kinds["half"]:
                merged[-1] = [*merged[-1][:-1], f"{before + 0.5}", *bare[1:]]
            else:
                merged.append(chunk)
        return merged

    def _whole(self, token: str) -> float | None:
        """A whole number in figures or words."""
        return read_number(token) if token.isdigit() else self.numbers.get(token)

    def chunk(self, tokens: list[str]) -> Chunk:
        source, several, used = self._source_in(tokens)
        numbers: list[float] = []
        counted = ""
        generic = apart = food = closed = loose = False
        strange = ""
        insulin = self._counts_insulin(tokens)
        weak = bool(used) and all(self._unit(stem_of(tokens[at])) for at in used)
        form, of_glucose = form_in(tokens, self.kinds, source)
        unit = self._bottles_of(tokens, used, source)
        for at, token in enumerate(tokens):
            stem = stem_of(token)
            value = read_number(token)
            if value is None and (token in self.numbers or stem in self.kinds["half"]):
                value = self.numbers.get(token, 0.5)
                follows = at + 1 < len(tokens) and (value > 1.0 or self._counts(tokens, at, used))
                loose = loose or self._is_loose(tokens, at, value, follows)
                value = value if follows else None
                beside = {stem_of(tokens[near]) for near in (at - 1, at + 1) if 0 <= near < len(tokens)}
                if value == 1.0 and beside & self.kinds["half"]:
                    continue  # 'a half', 'half a'
            if value is not None:
                numbers.append(value)
            elif at in used:
                continue
            elif named_unit := self._unit(stem) or self._measure(tokens, at, source):
                unit = unit or named_unit
            elif stem in self.kinds["food"]:
                food = food or not closed  # 'at dinner' is not what was counted
                counted = counted or (token if numbers and at < min(used, default=0) else "")  # '3 chocolate candy'
            elif stem in self.kinds["closing"] or stem in self.beside:
                closed, apart = True, apart or not numbers
            elif (
                stem in self.kinds["unsure"] | self.kinds["negation"]
                or not token.isalpha()
                or (stem in self.kinds["carbohydrate"] and form)
            ):
                continue
            elif stem in self.kinds["filler"] or is_form(stem, self.kinds):
                generic = generic or stem in GENERIC
                counted = counted or (token if numbers and self._holds_many(tokens, at, source) else "")
            elif numbers and not (counted or generic or closed) and (source is None or weak or at < min(used)):
                counted = token
            elif not numbers:
                strange, apart = strange or token, True
        return Chunk(
            numbers,
            unit,
            source,
            weak,
            several,
            generic,
            counted,
            strange,
            apart,
            food,
            form,
            of_glucose,
            insulin,
            self._multiplied(tokens),
            bool(self.of_time & set(tokens)),
            loose,
            self._left(tokens),
        )

    def _counts(self, tokens: list[str], at: int, used: set[int]) -> bool:
        """Whether 'a', 'one' or 'half' counts what stands behind it: 'a tablet', 'half a bottle', no 'half asleep'."""
        for near in (at + 1, at + 2):
            if near >= len(tokens):
                return False
            stem = stem_of(tokens[near])
            if near in used or self._unit(stem) or is_form(stem, self.kinds) or stem in self.kinds["vessel"]:
                return True
            if stem not in self.kinds["half"] and tokens[near] not in self.numbers and stem not in GENERIC:
                return False
            if stem in GENERIC:
                return True
        return False

    def _is_loose(self, tokens: list[str], at: int, value: float, counts: bool) -> bool:
        """Whether a word for a number counts nothing and may still be of the glucose: 'ate half', 'he ate two'."""
        if counts:
            return False
        last = at + 1 == len(tokens)
        if value == 1.0 and not last:
            return tokens[at + 1] in self.eaten | self.more or stem_of(tokens[at + 1]) in self.beside
        if value == 1.0:
            return tokens[at] in {"one", "eins", "uno"}
        behind = "" if last else stem_of(tokens[at + 1])
        return last or behind in self.kinds["filler"] or behind in self.beside or tokens[at + 1] in self.eaten

    def _holds_many(self, tokens: list[str], at: int, source: Source | None) -> bool:
        """Whether a word for a thing that is squeezed or drunk stands beside tablets: '1 tube tablets' is not one."""
        behind = {self._unit(stem_of(token)) for token in tokens[at + 1 :]}
        of_pieces = source.form is Form.TABLET if source is not None else "piece" in behind
        return of_pieces and stem_of(tokens[at]) in self.kinds["form"]

    def _multiplied(self, tokens: list[str]) -> bool:
        """Whether between two numbers a word or sign says so: '3 x 4 g', '2 tablets of 4 g'."""
        at = [place for place, token in enumerate(tokens) if read_number(token) is not None]
        return len(at) == 2 and bool(self.product & set(tokens[at[0] + 1 : at[1]]))

    def _counts_insulin(self, tokens: list[str]) -> bool:
        """Whether a number counts units of insulin: '3 IE', '2 U', '1.5 insulin', 'bolus 3'."""
        numbers = [at for at, token in enumerate(tokens) if read_number(token) is not None]
        behind = {tokens[at + 1] for at in numbers if at + 1 < len(tokens)}
        return bool(numbers) and bool(behind & self.insulin or self.insulin_named.intersection(tokens))

    def _left(self, tokens: list[str]) -> str:
        """Whether the words say that something is left, full or bought."""
        padded = f" {' '.join(tokens)} "
        return next(
            (kind for kind in LEFT if any(f" {folded(phrase)} " in padded for phrase in self.words.amounts[kind])), ""
        )

    def _bottles_of(self, tokens: list[str], used: set[int], source: Source | None) -> str:
        """'bottle' where a liquid is called so and a number counts it: 'half bottle' is no half mL."""
        if source is None or source.unit is not AmountUnit.ML:
            return ""
        at = next((at for at in sorted(used) if stem_of(tokens[at]) in self.kinds["bottle"]), 0)
        before = {token for token in tokens[:at] if self._unit(stem_of(token)) in {"ml", "gram"}}
        number = at > 0 and (tokens[at - 1] in self.numbers or read_number(tokens[at - 1]) is not None)
        half = at > 0 and stem_of(tokens[at - 1]) in self.kinds["half"]
        return "bottle" if (number or half) and not before else ""

    def _unit(self, stem: str) -> str:
        for kind in ("piece", "ml", "gram", "bottle"):
            if stem in self.kinds[kind]:
                return kind
        return ""

    def _measure(self, tokens: list[str], at: int, source: Source | None) -> str:
        """'vessel' for a glass, a spoon or a sip behind a number, and for any unknown word there, of a liquid."""
        if at == 0 or (read_number(tokens[at - 1]) is None and tokens[at - 1] not in self.numbers):
            return ""
        stem = stem_of(tokens[at])
        of_liquid = source is not None and source.unit is AmountUnit.ML and tokens[at].isalpha()
        known = any(stem in kind for kind in (*self.kinds.values(), self.beside))
        return "vessel" if stem in self.kinds["vessel"] or (of_liquid and not known) else ""

    def in_ml(self, plain: str) -> str:
        """The text with litres, decilitres and centilitres as mL."""
        return self.volume.sub(self._as_ml, plain)

    def _as_ml(self, found: re.Match[str]) -> str:
        number = read_number(found[1])
        return found[0] if number is None else f"{number * self.ml_each[found[2]]:g} ml"

    def _source_in(self, tokens: list[str]) -> tuple[Source | None, bool, set[int]]:
        """The source whose name, own or other, is the longest found among the tokens."""
        stems = [stem_of(token) for token in tokens]
        best: list[Source] = []
        longest, used = 0, set[int]()
        for source in self.sources:
            for name in source.names:
                wanted = [stem_of(word) for word in folded(name).split()]
                at = next((i for i in range(len(stems)) if wanted and stems[i : i + len(wanted)] == wanted), None)
                if at is None or len(wanted) < longest:
                    continue
                if len(wanted) > longest:
                    best, longest, used = [], len(wanted), set(range(at, at + len(wanted)))
                if source not in best:
                    best.append(source)
        return (best[0], False, used) if len(best) == 1 else (None, bool(best), used)
