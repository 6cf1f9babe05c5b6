"""What a change was, in a few words of the person's language: what may be taken back, listed."""

import json
import re
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final

from gramrise.report import answer_words, local_time
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
        given = ", ".join(_given(each, person, words) for each in about["doses"])
        return words.say("undo.given", given=given) if given else words.say("undo.given_none")
    if change.kind == "import":
        return words.say("undo.file" if about["rows"] else "undo.file_known", file=about["file"], rows=about["rows"])
    if change.kind == "weighing":
        kg, on = words.number(about["kg"], 1), words.day(date.fromisoformat(about["on"]))
        return words.say("undo.weighing", kg=kg, on=on)
    if change.kind == "answer":
        return _answer(about, words)
    if "rows" in about:
        return "; ".join(_row(row, person, words) for row in about["rows"])
    return "; ".join(dict.fromkeys(_fact(fact, words) for fact in about["facts"]))


def _given(dose: dict[str, Any], person: "Person", words: "ScreenWords") -> str:
    amount = "?" if dose["amount"] is None else words.amount(dose["amount"])
    unit = f"unit.{dose['amount_unit']}"
    named = [amount, words.say(unit) if words.has(unit) else dose["amount_unit"], dose["source"]]
    at = local_time(datetime.fromisoformat(dose["taken_at_utc"]), person)
    return words.say("undo.amount_at", amount=" ".join(word for word in named if word), at=at)


def _answer(about: dict[str, Any], words: "ScreenWords") -> str:
    answer, number = answer_words(about["answer"], about["kind"], words), len(about["question_ids"])
    if number > 1:
        return words.say("undo.answers", answer=answer, count=number)
    return words.say("undo.answer", answer=answer, question=about["sentence"].rstrip(".?"))


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


def _fact(changed: list[Any], words: "ScreenWords") -> str:
    """'birth date set: 2016-04-18, before 2017-04-18', 'source set from 20 Nov 2026: candy 1 g'."""
    fact, from_on, before, after, *held = changed
    code = f"fact.{fact}"
    named = words.say(code) if words.has(code) else fact.replace("_", " ")
    on = words.say("undo.from_day", day=words.day(date.fromisoformat(from_on))) if from_on else ""
    was = held[0] if held else before
    told = _values(fact, _read(was), _read(after), words)
    if fact == "sources":
        out = after is None or not _restated(_read(was) or [], _read(after) or [])
        return words.say("undo.fact_out" if out else "undo.fact_set", fact=f"{named} {told}".strip(), on=on)
    said = words.say("undo.fact_out" if after is None else "undo.fact_set", fact=named, on=on)
    return f"{said}: {told}" if told else said


def _read(told: str | None) -> Any:
    return None if told is None else json.loads(told)


def _values(fact: str, was: Any, now: Any, words: "ScreenWords") -> str:
    """What a fact was and is, where that is short enough for a line."""
    if fact == "sources":
        return ", ".join(_sources_changed(was or [], now or [], words))
    if isinstance(now, dict):  # a care plan: the lines that are others than before
        before = was if isinstance(was, dict) else {}
        lines = [
            name
            for name, value in now.items()
            if value != before.get(name) and _short(value) and (value or before.get(name))
        ]
        return ", ".join(
            f"{words.say(f'plan_line.{name}')} {_one(now[name], before.get(name), words)}" for name in lines
        )
    return _one(now, was, words) if _short(now) and now != "" else ""


def _short(value: Any) -> bool:
    return isinstance(value, str | int | float) or (isinstance(value, list) and all(isinstance(x, str) for x in value))


def _one(now: Any, was: Any, words: "ScreenWords") -> str:
    before = words.say("undo.before_that", value=_text(was, words)) if was not in (None, "", []) and _short(was) else ""
    return f"{_text(now, words)}{before}"


def _text(value: Any, words: "ScreenWords") -> str:
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


def _strength(source: dict[str, Any], words: "ScreenWords") -> list[str]:
    """'1.00 g' in a piece, or '0.25 g/mL'."""
    pieces, ml = source.get("grams_per_piece"), source.get("grams_per_ml")
    return [f"{words.number(pieces, 2)} g"] if pieces else [f"{words.number(ml, 2)} g/mL"] if ml else []
