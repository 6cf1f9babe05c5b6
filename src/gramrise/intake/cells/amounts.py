"""Amounts of glucose as people write them: '3 pieces', '15 ml', '1/2 bottle', '4 tabs + 10 mL', '3 St. Traubenzucker'.

Nothing is guessed: an amount nobody could mean for certain keeps its number, has no grams and becomes a question.
"""

import re
from dataclasses import dataclass, replace

from gramrise.domain.sources import AmountUnit, Form, Source
from gramrise.intake.cells.amount_tokens import (
    CLOCK_TIME,
    MISWRITTEN,
    OTHER_MEASURE,
    PARTS_OF_MANY,
    RANGE,
    AmountWords,
    Chunk,
    plain_words,
)
from gramrise.intake.cells.beside_amounts import who_noticed, without_counts
from gramrise.intake.cells.word_stems import GENERIC, stem_of
from gramrise.intake.cells.words_beside import behind_odd_label, is_plain_heading, other_thing
from gramrise.intake.words import HeaderWords, folded


@dataclass(frozen=True, slots=True)
class Given:
    """One amount of one source. `grams` is anhydrous glucose, None where amount or strength is unknown."""

    source: str
    form: Form
    amount: float | None
    unit: str  # piece | mL | g | ''
    grams: float | None
    may_be_weaker: bool
    meant: str = ""  # the answer that says it is as written, 'piece:candy', where it is asked about for its size


@dataclass(frozen=True, slots=True)
class ReadAmount:
    """What one text says. No `given` and no `question`: it speaks of no glucose given."""

    given: tuple[Given, ...] = ()
    remarks: tuple[str, ...] = ()  # mixed_with_food, vomited, time_doubtful
    happenings: tuple[str, ...] = ()  # food, activity, illness, glucagon, vomited
    # bare_amount | which_source | unknown_source | no_amount | unclear_amount | bottle_size | glucose_or_product
    # | left_or_given; and, by who knows the household: amount_large | source_of_another
    question: str = ""
    about_word: str = ""  # the word the question is about
    names_glucose: bool = False  # a source of the person, or a general word for glucose, stands in it
    counts: bool = False  # some of its numbers say what is left or bought, not what was given
    insulin: bool = False  # some of its numbers are units of insulin
    noticed: str = ""  # child | sensor | adult: who noticed, where the words say so
    whose: str = ""  # source_of_another: who of the household has the source that `about_word` names


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


def product_named(label: str, sources: tuple[Source, ...], words: HeaderWords) -> str:
    """The thing of which glucose is only a part that a label of grams names, 'gel'; '' where they are of glucose."""
    sorter = _sorter(sources, words)
    chunks = sorter.sorted_chunks(plain_words(label))
    if any(chunk.of_glucose for chunk in chunks):
        return ""
    return next((chunk.form for chunk in chunks if chunk.form), "")


def heading_denies(line: str, sources: tuple[Source, ...], own: frozenset[str], words: HeaderWords) -> bool:
    """Whether a line above amounts says, or may say, that they were not given: 'Not given:', 'Planned for the trip'.

    own  names of the person, which say nothing
    """
    sorter = _sorter(sources, words)
    plain = sorter.of_glucose_alone(plain_words(line))
    spoken = set(_WORD_OR_NUMBER.findall(plain))
    meant = words.listed("amounts", "heading_plan") | words.listed("amounts", "summed_or_meant")
    if sorter.negated(plain) or spoken & meant:
        return True
    known = sorter.own | frozenset(map(stem_of, own))
    return plain.rstrip().endswith(":") and not is_plain_heading(plain, known, words)


def source_named(text: str, sources: tuple[Source, ...]) -> Source | None:
    """The one source that a name means, by its own or its other names; None where none or several do."""
    found = [source for source in sources if any(_same(text, name) for name in source.names)]
    return found[0] if len(found) == 1 else None


def of_another(
    text: str, own: tuple[Source, ...], others: tuple[tuple[str, str], ...], *, heading: bool = False
) -> tuple[str, str] | None:
    """The (name, whose) of another person's source that stands in a text and is no name of this person's own.

    heading  the text is the title of a column, in which a general word for glucose names nobody's source
    """
    said = _stems(text)
    names = [_stems(name) for one in own for name in one.names]
    for own_name in sorted(names, key=len, reverse=True):
        said = _without(said, own_name)
    for name, whose in others:
        stems = _stems(name)
        general = heading and GENERIC.issuperset(stems)
        if stems and not general and _without(said, stems) != said:
            return name, whose
    return None


def _stems(text: str) -> list[str]:
    """The words and numbers of a text without the endings of plurals: 'candies' is 'candy'."""
    found = _WORD_OR_NUMBER.findall(folded(text))
    return [stem_of(f"{word.removesuffix('ies')}y" if word.endswith("ies") else word) for word in found]


def _without(words: list[str], name: list[str]) -> list[str]:
    """Words without the run of them that is a name; what stood before and behind it stays apart."""
    at = next((at for at in range(len(words)) if name and words[at : at + len(name)] == name), None)
    return words if at is None else [*words[:at], "", *_without(words[at + len(name) :], name)]


def form_named(text: str, words: HeaderWords) -> Form:
    """The form a word means; unknown where it means none."""
    for form in (Form.TABLET, Form.LIQUID, Form.GEL):
        if folded(text) in {folded(word) for word in words.forms[form.value]}:
            return form
    return Form.UNKNOWN


def dose_unit_named(text: str, words: HeaderWords) -> str:
    """'piece', 'ml', 'gram' or 'bottle' where a text is such a word and nothing else; '' where it is not."""
    word = folded(text).strip(" .()[]")
    kinds = ("piece", "ml", "gram", "bottle")
    return next((kind for kind in kinds if word in {folded(one) for one in words.amounts[kind]}), "")


def _same(one: str, other: str) -> bool:
    return [stem_of(word) for word in folded(one).split()] == [stem_of(word) for word in folded(other).split()]


def _unknown(chunk: Chunk) -> Given:
    """An amount of a thing that is no source of the person."""
    amount = chunk.numbers[0] if len(chunk.numbers) == 1 else None
    return Given("", Form.UNKNOWN, amount, _UNITS[chunk.unit].value if chunk.unit in _UNITS else "", None, False)


_WORD_OR_NUMBER = re.compile(r"[^\W\d_]+|\d+")
_UNITS = {"piece": AmountUnit.PIECE, "ml": AmountUnit.ML, "gram": AmountUnit.GRAM}


_MOST_SAID_TWICE = 6  # our choice: more amounts in one text are no repetition; the row is set aside for their number
_MOST_MADE = 64  # sets of sources kept; our choice: those of the persons of one pass
_ROUNDED = 0.03  # our choice: grams behind pieces are rounded
_LEAST_LEVEL = 20.0  # our choice: whole numbers from here on are levels in mg/dL; in mmol/L they have a decimal

_SURELY_A_LEVEL = 45.0  # our choice: nobody gives so many pieces; beside an amount with its unit it is a level

# Digits above or below the line are no digits of an amount: "1/\u00b22" is no 1/22, a damaged "20" no twenty.
_RAISED = re.compile("[\u00b9\u00b2\u00b3\u2070-\u2079\u2080-\u2089]")


_IN_BRACKETS = re.compile(r"\A\([\d.,]{1,12}\)\Z")  # of a column: a sheet's way to write less than nothing
_BOUND = re.compile(r"(?<!-)[<>\u2264\u2265]\s?=?\s?\d")  # more or less than that: nobody knows how much


def _sorter(sources: tuple[Source, ...], words: HeaderWords) -> AmountWords:
    """The words of amounts against these sources, made once: a file has hundreds of thousands of cells."""
    made = words.made.get(("amounts", sources))
    if not isinstance(made, AmountWords):
        if len(words.made) >= _MOST_MADE:
            words.made.clear()
        words.made["amounts", sources] = made = AmountWords(sources, words)
    return made


class _Reader:
    """Combines the chunks of a text: either every amount is clear, or there is one question about the text."""

    def __init__(self, sources: tuple[Source, ...], words: HeaderWords, named: Source | None) -> None:
        self.sources, self.words, self.named = sources, words, named
        self.sorter = _sorter(sources, words)

    def read(self, text: str) -> ReadAmount:
        """What the text says; see `read_amount`."""
        plain = self.sorter.of_glucose_alone(self.sorter.in_ml(plain_words(text)))
        happenings = self.sorter.happenings(plain)
        without_clock = CLOCK_TIME.sub(" ", plain)
        marks = (
            ("mixed_with_food", "food" in happenings),
            ("vomited", "vomited" in happenings),
            ("time_doubtful", without_clock != plain),
        )
        remarks = tuple(code for code, holds in marks if holds)
        if "activity" in happenings:  # 'football 60 min': how long it was
            without_clock = self.sorter.duration.sub(" ", without_clock)
        everything = self.sorter.sorted_chunks(without_clock)
        insulin = any(chunk.insulin for chunk in everything)
        chunks, counted = without_counts([chunk for chunk in everything if not chunk.insulin])
        noticed = who_noticed(plain, self.words)
        if insulin and not any(chunk.numbers or chunk.speaks_of_glucose for chunk in (*chunks, *counted)):
            return ReadAmount((), remarks, happenings, insulin=True, noticed=noticed)
        if counted and not any(chunk.numbers or chunk.speaks_of_glucose for chunk in chunks):
            return self._of_counts(counted, remarks, happenings, noticed)
        negated = self.sorter.negated(without_clock)
        if negated and not any(chunk.numbers for chunk in chunks):
            return ReadAmount((), remarks, happenings, counts=bool(counted), noticed=noticed)
        odd = (RANGE, MISWRITTEN, OTHER_MEASURE, _IN_BRACKETS) if self.named else (RANGE, MISWRITTEN)
        unclear = negated or "?" in without_clock or bool(_RAISED.search(text)) or bool(_BOUND.search(without_clock))
        unclear = unclear or bool(PARTS_OF_MANY.search(without_clock)) or any(chunk.loose for chunk in everything)
        # Of a column: a word that nobody has taught us, apart from the number, makes something else of it: '01. Mai'.
        unclear = unclear or (self.named is not None and any(self._is_strange(chunk) for chunk in everything))
        unclear = unclear or (without_clock != plain and self.sorter.again(without_clock))
        unclear = unclear or self._left_of_it(chunks, counted) or self._is_labelled(without_clock)
        unclear = unclear or any(chunk.numbers == [0.5] and not chunk.speaks_of_glucose for chunk in counted)
        unclear = unclear or any(pattern.search(without_clock) for pattern in odd) or self.sorter.changed(without_clock)
        found = self._amounts_of(chunks, unclear, self.sorter.joined(without_clock))
        if unclear and MISWRITTEN.search(without_clock):  # '3;2' is one amount, whichever
            found = replace(found, given=found.given[:1])
        found = self._of_another_thing(found, chunks, plain)
        named = any(chunk.source or chunk.several or chunk.generic for chunk in chunks)
        return ReadAmount(
            found.given, remarks, happenings, found.question, found.about_word, named, bool(counted), insulin, noticed
        )

    def _of_another_thing(self, found: ReadAmount, chunks: list[Chunk], plain: str) -> ReadAmount:
        """Pieces or mL of which no word says that they are glucose are asked about beside a word for another thing."""
        pieces = [chunk for chunk in chunks if chunk.unit in {"piece", "ml"} or chunk.weak]
        said = any(not chunk.weak and chunk.source is not None for chunk in pieces)
        if found.question or not found.given or not pieces or said or self.named is not None:
            return found
        word = other_thing(plain, self.sorter.own, self.sorter.known, self.words)
        if not word:
            return found
        unsaid = tuple(Given("", Form.UNKNOWN, one.amount, one.unit, None, False) for one in found.given)
        return ReadAmount(unsaid, question="unknown_source", about_word=word)

    def _of_counts(
        self, counted: list[Chunk], remarks: tuple[str, ...], happenings: tuple[str, ...], noticed: str
    ) -> ReadAmount:
        """A text whose only numbers say what is there: a count, or a question where its word may mean otherwise."""
        named = any(chunk.source or chunk.several or chunk.generic or chunk.unit for chunk in counted)
        if all(chunk.left == "left_over" for chunk in counted) or not named:
            return ReadAmount((), remarks, happenings, counts=True, noticed=noticed)
        asked = tuple(_unknown(chunk) for chunk in counted[:1])
        return ReadAmount(asked, remarks, happenings, "left_or_given", counted[0].left, True, noticed=noticed)

    def _amounts_of(self, chunks: list[Chunk], unclear: bool, joined: bool) -> ReadAmount:
        """The amounts of all chunks; where one is not clear, one question about the text."""
        given: list[Given] = []
        question = about = ""
        bare: list[Chunk] = []
        form = next((chunk.form for chunk in chunks if chunk.form and not chunk.numbers), "")
        for chunk in chunks:
            if chunk.food and chunk.source is None and not chunk.generic and not (unclear and chunk.unit):
                continue
            if chunk.food and chunk.weak and not chunk.generic:  # '2 pieces of cake': a word that counts anything
                question = question or "unclear_amount"
            if chunk.unknown_thing and self.named is None:
                question, about = question or "unknown_source", about or chunk.unknown_thing
                given.append(_unknown(chunk))
                continue
            if self.named is not None and self._of_another_measure(chunk):
                question, about = question or "unknown_source", about or chunk.counted
                given.append(replace(_unknown(chunk), source=self.named.name, form=self.named.form, unit=""))
                continue
            if not chunk.speaks_of_glucose and not (self.named and chunk.numbers and not chunk.apart):
                bare += [chunk] if chunk.numbers else []
                continue
            product = (chunk.form or form) if chunk.unit == "gram" and chunk.numbers and not chunk.of_glucose else ""
            read, asked = self._given(chunk) if not product or self.named else self._of_product(chunk)
            about = about or (product if asked == "glucose_or_product" else "")
            given.append(read)
            question = question or asked
        given, question = self._beside_each_other(given, bare, unclear, joined, question)
        if not question and bare and not given:
            question = "bare_amount"
        if bare and not given and question == "bare_amount" and all(chunk.apart for chunk in bare):
            return ReadAmount()  # a number that belongs to other words
        if question and not given and bare:
            amount = bare[0].numbers[0] if len(bare) == 1 and len(bare[0].numbers) == 1 else None
            given = [Given("", Form.UNKNOWN, amount, "", None, False)]
        if question and not given:
            numbers = [number for chunk in chunks for number in chunk.numbers]
            given = [Given("", Form.UNKNOWN, numbers[0] if len(numbers) == 1 else None, "", None, False)]
        of_one_cell = len(given) > 1 and self.named is not None  # '01. Feb', '5.11.'
        none_of_these = bool(given) and all(one.grams is not None for one in given)
        if question and (of_one_cell or none_of_these):
            given, question = given[:1], "unclear_amount"
        if question == "unclear_amount":
            given = [Given(one.source, one.form, None, "", None, one.may_be_weaker) for one in given]
        given = [one for one in given if one.amount is None or one.amount > 0]
        return ReadAmount(tuple(given), question=question if given else "", about_word=about)

    def _beside_each_other(
        self, given: list[Given], bare: list[Chunk], unclear: bool, joined: bool, question: str
    ) -> tuple[list[Given], str]:
        """The amounts of a text, and the question where they do not stand beside each other, or the one it has."""
        if question:
            one = bool(given) and (unclear or (not joined and self._one_amount_twice(given)))
            # Else what is answered would be added to what is known.
            return (given[:1], "unclear_amount") if one else (given, question)
        asked = ""
        if len(given) > 1 and not joined:
            given, asked = self._told_twice(given)
        if given and any(self._is_loose(chunk) for chunk in bare):
            asked = "unclear_amount"  # a number that stands in the words and is not used
        return given, "unclear_amount" if unclear and (given or bare) else asked

    def _told_twice(self, given: list[Given]) -> tuple[list[Given], str]:
        """Pieces or mL with their grams behind them, '2 tablets (8 g)', are one amount where both agree, else asked.

        In a column of amounts two numbers of a cell are one amount told twice, or nobody knows what.
        """
        counted = [one for one in given if one.unit not in {AmountUnit.GRAM.value, ""}]
        in_grams = [one for one in given if one.unit == AmountUnit.GRAM.value]
        if counted and in_grams:
            one, other = counted[0].grams, in_grams[0].grams
            agree = one is not None and other is not None and abs(other / one - 1) <= _ROUNDED
            return (counted, "") if agree and len(given) == 2 else (given[:1], "unclear_amount")
        return (given[:1], "unclear_amount") if self.named or self._one_amount_twice(given) else (given, "")

    def _one_amount_twice(self, given: list[Given]) -> bool:
        """Whether amounts that nothing adds up may be one: pieces beside grams, or two of one source."""
        if len(given) > _MOST_SAID_TWICE:
            return False
        counted = [one.source for one in given if one.unit != AmountUnit.GRAM.value]
        in_grams = len(given) - len(counted)
        return bool(counted and in_grams) or len(set(counted)) < len(counted)

    def _is_loose(self, chunk: Chunk) -> bool:
        """Whether a number beside an amount may be another amount, and is no reading, and no minutes."""
        if self.named is not None:
            return True
        if not chunk.apart:
            return not all(number >= _SURELY_A_LEVEL for number in chunk.numbers)
        numbers = sorted(chunk.numbers)[1:] if chunk.timed else chunk.numbers  # minutes, and what came then
        return not all(number >= _LEAST_LEVEL or number != int(number) for number in numbers)

    def _left_of_it(self, chunks: list[Chunk], counted: list[Chunk]) -> bool:
        """Whether what is left is less than an amount: '20 mL, 5 mL left' may be what was left of it."""
        given = [number for chunk in chunks if chunk.speaks_of_glucose or self.named for number in chunk.numbers]
        return any(number < most for chunk in counted for number in chunk.numbers for most in given)

    def _is_labelled(self, plain: str) -> bool:
        """Whether a word before a colon may make another thing of the amount behind it: 'Plan:', 'total:', 'T:'."""
        chunks = self.sorter.sorted_chunks(behind_odd_label(plain, self.sorter.own, self.words))
        return any(chunk.numbers and (chunk.speaks_of_glucose or self.named is not None) for chunk in chunks)

    def _is_strange(self, chunk: Chunk) -> bool:
        """Whether a word that nobody has taught us stands apart from the number."""
        return bool(chunk.strange) and stem_of(chunk.strange) not in self.sorter.known

    def _of_another_measure(self, chunk: Chunk) -> bool:
        """Whether a word nobody has taught us counts in a column of amounts: '3 packs', '4 oz', '5 mg'."""
        of_tablets = self.named is not None and self.named.form is Form.TABLET and bool(chunk.numbers)
        unlike = of_tablets and bool(chunk.form) and stem_of(chunk.form) in self.sorter.kinds["form"]  # '2 sachets'
        return unlike or (bool(chunk.counted) and stem_of(chunk.counted) not in self.sorter.known)

    def _given(self, chunk: Chunk) -> tuple[Given, str]:
        """One chunk that speaks of glucose, and the question it leaves open."""
        source = chunk.source or self.named
        if self.named is not None and chunk.source not in {None, self.named}:
            source = self.named  # the column says of what; 'tablets' there only counts
            if not chunk.weak:
                return Given(source.name, source.form, None, "", None, source.may_be_weaker), "unclear_amount"
        amount = self._amount(chunk)
        form = source.form if source is not None else Form.UNKNOWN
        name = source.name if source is not None else ""
        weaker = source.may_be_weaker if source is not None else False
        unit = _UNITS.get(chunk.unit)
        if amount is None:
            asked = "unclear_amount" if chunk.numbers else "no_amount"
            return Given(name, form, None, "", None, weaker), asked
        if chunk.unit == "vessel":
            return Given(name, form, amount, "", None, weaker), "bottle_size"
        if chunk.unit == "bottle":
            return self._bottles(amount, source)
        if unit is AmountUnit.GRAM:
            given = of_source(source, amount, unit) if source else grams_alone(amount, Form.UNKNOWN)
            return given, ""
        return self._by_unit(amount, unit, chunk) if source is None else self._counted(amount, unit, source)

    def _of_product(self, chunk: Chunk) -> tuple[Given, str]:
        """Grams of a gel, syrup, drink or tablet: nobody has said whether they are grams of glucose."""
        amount = self._amount(chunk)
        form = chunk.source.form if chunk.source is not None else Form.UNKNOWN
        return Given("", form, amount, AmountUnit.GRAM.value, None, False), (
            "unclear_amount" if amount is None else "glucose_or_product"
        )

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

    def _amount(self, chunk: Chunk) -> float | None:
        if len(chunk.numbers) == 2 and chunk.unit == "gram" and chunk.multiplied:
            return chunk.numbers[0] * chunk.numbers[1]  # 3 x 4 g
        return chunk.numbers[0] if len(chunk.numbers) == 1 else None

    def _by_unit(self, amount: float, unit: AmountUnit | None, chunk: Chunk) -> tuple[Given, str]:
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
            and any(stem_of(word) in self.sorter.kinds["bottle"] for name in one.names for word in folded(name).split())
        ]
        if len(named_so) == 1:
            return of_source(named_so[0], amount, AmountUnit.PIECE), ""
        name, form = (source.name, source.form) if source is not None else ("", Form.UNKNOWN)
        return Given(name, form, amount, "", None, source is not None and source.may_be_weaker), "bottle_size"
