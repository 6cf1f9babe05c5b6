"""What a change was, in a few words of the person's language: what may be taken back, listed."""

import json
import re
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final

from gramrise.domain.questions import Question
from gramrise.domain.sources import StatedAs
from gramrise.report import answer_words, local_time, offered_words, question_words
from gramrise.store import instant

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.report import ScreenWords
    from gramrise.store import Change

_DAY: Final = re.compile(r"\d{4}-\d\d-\d\d")
# When a row of supplies was made, by its table.
_WHEN: Final = {"mixed_batches": "mixed_at", "container_counts": "to_at", "stock_counts": "counted_at"}


def described(change: "Change", person: "Person", words: "ScreenWords") -> str:
    """What a change was."""
    about = change.about
    if change.kind == "given":
        doses = about["doses"]
        pairs = zip(doses, about.get("as_typed") or [""] * len(doses), strict=True)
        given = ", ".join(_given(dose, text, person, words) for dose, text in pairs)
        return words.say("undo.given", given=given) if given else words.say("undo.given_none")
    if change.kind == "import":
        return words.say("undo.file" if about["rows"] else "undo.file_known", file=about["file"], rows=about["rows"])
    if change.kind == "weighing":
        kg, on = words.number(about["kg"], 1), words.day(date.fromisoformat(about["on"]))
        return words.say("undo.weighing", kg=kg, on=on)
    if change.kind == "answer":
        return _answer(about, person, words)
    if "rows" in about:
        return "; ".join(_row(row, person, words) for row in about["rows"])
    return "; ".join(_facts(about["facts"], words))


def _given(dose: dict[str, Any], text: str, person: "Person", words: "ScreenWords") -> str:
    """'3 pieces candy at Mon ...'; an amount that is asked about has no unit and no source yet: as it was typed."""
    if text:
        at = local_time(datetime.fromisoformat(dose["taken_at_utc"]), person)
        return words.say("undo.amount_at", amount=words.say("undo.as_typed", text=text), at=at)
    amount = "?" if dose["amount"] is None else words.amount(dose["amount"])
    unit = f"unit.{dose['amount_unit']}"
    named = [amount, words.say(unit) if words.has(unit) else dose["amount_unit"], dose["source"]]
    at = local_time(datetime.fromisoformat(dose["taken_at_utc"]), person)
    return words.say("undo.amount_at", amount=" ".join(word for word in named if word), at=at)


def _answer(about: dict[str, Any], person: "Person", words: "ScreenWords") -> str:
    """The answer and its question, both as `ask` says them."""
    number = len(about["question_ids"])
    if number > 1:
        return words.say("undo.answers", answer=answer_words(about["answer"], about["kind"], words), count=number)
    if "asked" not in about:  # noted by a version that kept the English sentence alone
        answer, sentence = answer_words(about["answer"], about["kind"], words), about["sentence"]
    else:
        asked = Question(person.person_id, about["kind"], "", about["sentence"], (), about["asked"])
        answer, sentence = offered_words(about["answer"], asked, person, words), question_words(asked, person, words)
    return words.say("undo.answer", answer=answer, question=sentence.rstrip(".?"))


def _row(row: dict[str, Any], person: "Person", words: "ScreenWords") -> str:
    """A batch or a count: 'count of school tin: 13 left', 'batch 1 of night bottle corrected'."""
    after = row["after"]
    at = local_time(instant(after[_WHEN[row["table"]]]), person)
    if row["table"] == "container_counts":
        return words.say("undo.count", container=after["container"], left=after["pieces_left"], at=at)
    if row["table"] == "stock_counts":
        return words.say("undo.stock", source=after["source"], amount=words.amount(after["amount"]), at=at)
    code = "undo.batch" if row["before"] is None else "undo.batch_corrected"
    return words.say(code, number=after["number"], source=after["source"], at=at)


def _facts(facts: list[list[Any]], words: "ScreenWords") -> list[str]:
    """Each fact that was set. A source that holds on several days' lists was stated once: by the first of them."""
    told: dict[str, str] = {}
    for fact in sorted(facts, key=lambda each: (each[0], each[1])):
        of_what = _of_sources(fact, "", words) if fact[0] == "sources" else _fact(fact, words)
        told.setdefault(of_what, _fact(fact, words))
    return list(dict.fromkeys(told.values()))


def _fact(changed: list[Any], words: "ScreenWords") -> str:
    """'birth date set: 2016-04-18, before 2017-04-18', 'source candy 1 g set from 20 Nov 2026'."""
    fact, from_on, before, after, *held = changed
    on = words.say("undo.from_day", day=words.day(date.fromisoformat(from_on))) if from_on else ""
    if fact == "sources":
        return _of_sources(changed, on, words)
    told = _values(fact, _read(held[0] if held else before), _read(after), words)
    code = "undo.fact_out" if after is None else "undo.fact_set"
    said = words.say(code, fact=_named(fact, words), on=on)
    return f"{said}: {told}" if told else said


def _of_sources(changed: list[Any], on: str, words: "ScreenWords") -> str:
    """'source candy 2 g set from 20 Nov 2026, before 1 g'. `on`: from which day, in words."""
    fact, _, before, after, *held = changed
    was, now = _read(held[0] if held else before) or [], _read(after) or []
    out = after is None or not _restated(was, now)
    named = f"{_named(fact, words)} {', '.join(_sources_changed(was, now, words))}".strip()
    said = words.say("undo.fact_out" if out else "undo.fact_set", fact=named, on=on)
    return said if out else f"{said}{_strength_before(was, _restated(was, now), words)}"


def _named(fact: str, words: "ScreenWords") -> str:
    code = f"fact.{fact}"
    return words.say(code) if words.has(code) else fact.replace("_", " ")


def _read(told: str | None) -> Any:
    return None if told is None else json.loads(told)


def _values(fact: str, was: Any, now: Any, words: "ScreenWords") -> str:
    """What a fact was and is, where that is short enough for a line."""
    if isinstance(now, dict):  # a care plan: the lines that are others than before
        after, before = _lines(now), _lines(was if isinstance(was, dict) else {})
        changed = [name for name in after if after[name] != before.get(name) and (after[name] or before.get(name))]
        told = (f"{words.say(f'plan_line.{name}')} {_one(after[name], before.get(name), words)}" for name in changed)
        return ", ".join(told)
    if fact == "bands":
        now, was = _hours(now, words), _hours(was, words)
    now, was = (_spoken(fact, value, words) for value in (now, was))
    return _one(now, was, words) if _short(now) and now != "" else ""


def _lines(plan: dict[str, Any]) -> dict[str, Any]:
    """A plan's lines, those for school among them, by the words that name them."""
    school = plan.get("school") or {}
    return {name: value for name, value in plan.items() if name != "school"} | {
        f"school_{name}": value for name, value in school.items()
    }


def _hours(bands: Any, words: "ScreenWords") -> Any:
    """'daytime 07:00-22:00' of each time band, the usual ones by the language's own names."""
    if bands is None:
        return None
    named = {name: words.say(f"band.{name}") if words.has(f"band.{name}") else name for name, _, _ in bands}
    return [f"{named[name]} {start[:5]}-{end[:5]}" for name, start, end in bands]


def _spoken(fact: str, value: Any, words: "ScreenWords") -> Any:
    """A value of a closed list in the language's own word."""
    code = f"fact_value.{fact}.{value}"
    return words.say(code) if isinstance(value, str) and words.has(code) else value


def _short(value: Any) -> bool:
    return isinstance(value, str | int | float) or (isinstance(value, list) and all(isinstance(x, str) for x in value))


def _one(now: Any, was: Any, words: "ScreenWords") -> str:
    before = words.say("undo.before_that", value=_text(was, words)) if was not in (None, "", []) and _short(was) else ""
    return f"{_text(now, words)}{before}"


def _text(value: Any, words: "ScreenWords") -> str:
    if value in (None, "", []):
        return words.say("undo.nothing")
    if isinstance(value, list):
        return " + ".join(value)
    if isinstance(value, str) and _DAY.fullmatch(value):
        return words.day(date.fromisoformat(value))
    if isinstance(value, bool):
        return words.say("plan.yes" if value else "plan.no")
    return words.amount(value) if isinstance(value, int | float) else str(value)


def _restated(was: list[dict[str, Any]], now: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The sources of now that are stated otherwise than before, or new."""
    before = {each["name"]: each for each in was}
    return [each for each in now if each != before.get(each["name"])]


def _sources_changed(was: list[dict[str, Any]], now: list[dict[str, Any]], words: "ScreenWords") -> list[str]:
    """'candy 1.00 g': the sources that are stated otherwise than before, with their strength, and those that went."""
    told = [" ".join([each["name"], *_strength(each, words)]) for each in _restated(was, now)]
    return told + [each["name"] for each in was if each["name"] not in {one["name"] for one in now}]


def _strength_before(was: list[dict[str, Any]], restated: list[dict[str, Any]], words: "ScreenWords") -> str:
    """', before 1.00 g': of one source that was stated with another strength."""
    old = [_strength(each, words) for each in was if each["name"] == restated[0]["name"]]
    if len(restated) != 1 or not old or old[0] == _strength(restated[0], words):
        return ""
    return words.say("undo.before_that", value=" ".join(old[0]))


def _strength(source: dict[str, Any], words: "ScreenWords") -> list[str]:
    """'1.00 g' in a piece, or '0.25 g/mL', as it was stated; of monohydrate it is less glucose, so that is said."""
    pieces, ml = source.get("grams_per_piece"), source.get("grams_per_ml")
    told = [f"{words.number(pieces, 2)} g"] if pieces else [f"{words.number(ml, 2)} g/mL"] if ml else []
    of_what = source.get("stated_as")
    return [*told, words.say(f"powder.{of_what}")] if told and of_what == StatedAs.MONOHYDRATE else told
