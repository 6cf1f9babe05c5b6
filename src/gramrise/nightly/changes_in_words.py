"""What a change was, in a few words of the person's language: what may be taken back, listed."""

import json
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final

from gramrise.report import answer_words, local_time
from gramrise.store import instant

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.report import ScreenWords
    from gramrise.store import Change

# When a row of supplies was made, by its table.
_WHEN: Final = {"mixed_batches": "mixed_at", "container_counts": "to_at", "stock_counts": "counted_at"}


def described(change: "Change", person: "Person", words: "ScreenWords") -> str:
    """What a change was."""
    about = change.about
    if change.kind == "given":
        given = ", ".join(_given(each, person, words) for each in about["doses"])
        return words.say("undo.given", given=given) if given else words.say("undo.given_none")
    if change.kind == "import":
        return words.say("undo.file", file=about["file"], rows=about["rows"])
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
    fact, from_on, before, after = changed
    code = f"fact.{fact}"
    named = words.say(code) if words.has(code) else fact.replace("_", " ")
    if fact == "sources":
        named += _sources_changed(before, after)
    on = words.say("undo.from_day", day=words.day(date.fromisoformat(from_on))) if from_on else ""
    return words.say("undo.fact_out" if after is None else "undo.fact_set", fact=named, on=on)


def _sources_changed(before: str | None, after: str | None) -> str:
    """' candy, night bottle': the sources that are stated otherwise than before."""
    was, now = ({each["name"]: each for each in json.loads(told or "[]")} for told in (before, after))
    names = [name for name in {**was, **now} if was.get(name) != now.get(name)]
    return f" {', '.join(names)}" if names else ""
