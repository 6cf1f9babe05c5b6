"""A stored question and its answers as screens and pages show them, in the person's language."""

from datetime import date, datetime
from typing import TYPE_CHECKING, Final

from gramrise.domain.answered_grams import grams_of_answer, grams_typed
from gramrise.report.spoken.clocks import local_time

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.domain.questions import Question
    from gramrise.report.screens import ScreenWords

ENGLISH: Final = "en"
# The question about all amounts of a log: there 'grams' says what they are, and no number is typed.
WHOLE_LOG: Final = "pieces_or_grams"
TWO_AMOUNTS: Final = "which_amount"  # of two logs for one minute


def question_words(question: "Question", person: "Person", words: "ScreenWords") -> str:
    """The question: in English as it was asked, with all it names; else by the report's words for its kind."""
    from gramrise.report.words import words_for

    if words.language == "en":
        return question.sentence
    told = words_for(person.language, person.unit, "UTC")
    code = f"question.{question.kind}"
    if not told.has(code):
        return question.sentence
    about = question.about
    if "first" in about:  # two logs' amounts, each as a person writes it
        pair = {name: _amount_of(about[name], about["source"], words) for name in ("first", "second")}
        return told.say(code, at=_time(about.get("taken_at_utc"), person), **pair)
    kg = about.get("kg")
    values = {
        "at": _time(about.get("taken_at_utc"), person),
        "text": str(about.get("text", "")),
        "amount": _number(about.get("amount"), words),
        "log": str(about.get("file") or about.get("source") or told.say("question.a_log")),
        "equal": _number(about.get("equal"), words),
        "ratio": _number(about.get("ratio"), words),
        "on": _day(about.get("on"), words),
        "kg": _number(round(kg, 1) if isinstance(kg, float) else kg, words),
    }
    own = f"asked.{question.kind}"  # on the family's own screens other persons have names
    if words.has(own):
        return words.say(own, **values, word=str(about.get("word", "")), whose=str(about.get("whose", "")))
    return told.say(code, **values)


def choice_words(offered: str, question: "Question", person: "Person", words: "ScreenWords") -> str:
    """An answer as it is chosen from: with the grams that it makes of the amount, where it makes some."""
    told, grams = offered_words(offered, question, person, words), grams_of_answer(question, offered, person)
    if grams is None:
        return told
    weight = words.amount(round(grams, 1))
    if offered == "g":
        return words.say("answer.in_grams", answer=told, grams=weight)
    return words.say("answer.makes", answer=told, amount=_number(question.about.get("amount"), words), grams=weight)


def offered_words(offered: str, question: "Question", person: "Person", words: "ScreenWords") -> str:
    """An offered answer in words: the question's own where it brings some; 'pieces of candy', 'leave it out'."""
    about = question.about
    if offered in about and words.language != ENGLISH:
        return words.say("answer.only", amount=_amount_of(about[offered], about["source"], words))
    own = about.get("words")
    if isinstance(own, dict) and offered in own:
        told = str(own[offered])
        return told if words.language == ENGLISH else _place_answer(offered, told, person, words)
    return answer_words(offered, question.kind, words)


def _place_answer(offered: str, own: str, person: "Person", words: "ScreenWords") -> str:
    """An answer of the place room in another language than its own English; its own words where there are none."""
    from gramrise.report.spoken.counts import taken_words

    if offered.startswith("taken:"):
        return f"{taken_words(offered, person, words)} {own[own.rfind('(') :]}"  # with its chance, as '(62 %)'
    code = f"place_answer.{offered}"
    return words.say(code) if words.has(code) else own


def answer_words(answer: str, kind: str, words: "ScreenWords") -> str:
    """An answer in words, without its question."""
    code = f"answer.{answer}"
    plain = words.say(code) if words.has(code) else answer.replace("_", " ")
    if kind == WHOLE_LOG:
        return words.say("answer.whole_log", answer=words.say("answer.grams_alone") if answer == "grams" else plain)
    if kind == TWO_AMOUNTS and answer == "apart":
        return words.say("answer.both")
    typed = grams_typed(answer)
    if typed is not None:
        return words.say("answer.so_many", grams=words.amount(typed))
    unit, _, source = answer.partition(":")
    if source:
        named = f"answer.{unit}"
        return words.say("answer.of_source", unit=words.say(named) if words.has(named) else unit, source=source)
    return plain


def _amount_of(told: object, source: object, words: "ScreenWords") -> str:
    """'3 Stück candy' of what a question says of one log's amount."""
    assert isinstance(told, dict)  # the store wrote it
    unit = f"answer.{told['unit']}"
    spoken = words.say(unit) if told["unit"] != "g" and words.has(unit) else told["unit"]
    return f"{words.amount(told['amount'])} {spoken} {source}".rstrip()


def _time(told: object, person: "Person") -> str:
    return local_time(datetime.fromisoformat(told), person) if isinstance(told, str) else ""


def _day(told: object, words: "ScreenWords") -> str:
    return words.day(date.fromisoformat(told)) if isinstance(told, str) else ""


def _number(told: object, words: "ScreenWords") -> str:
    return words.amount(told) if isinstance(told, int | float) else "?"
