"""gramrise undo: the last changes, and taking one of them back."""

from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.store import Change

# Our choice: as many changes as a screen shows.
LISTED = 15


def register(app: typer.Typer) -> None:
    app.command()(undo)


def undo(
    context: typer.Context,
    what: Annotated[
        str | None, typer.Argument(metavar="WHAT", help="The number of a change; left out: list them.")
    ] = None,
    person: Annotated[str | None, typer.Option("--person", help="List this person's only.")] = None,
) -> None:
    """List the last changes, or take one back, whole: glucose given, a file, a weighing, an answer, a fact."""
    from gramrise.cli import tables

    house: Household = context.obj
    people = {each.person_id: each for each in house.store.persons()}
    if what is None:
        named = house.person(person).person_id if person is not None else None
        _list(house, people, named)
        return
    if not what.isdigit():
        raise WrongUse(f"'{what}' is no number of a change", "gramrise undo lists the last changes with their numbers")
    change = house.store.undo(int(what), house.now_utc())
    told = described(change, people[change.person_id])
    if any(fact == "born" for fact, *_ in change.about.get("facts", ())):
        from gramrise.cli.changed_facts import doubted_by_age

        person = house.person(change.person_id)
        house.store.doubt_by_age(person.person_id, doubted_by_age(house, person), house.now_utc())
    if change.taken_back_at_utc is not None:
        tables.say(f"Change {change.change_id} was taken back before; nothing changed. It was: {told}.")
        return
    tables.say(f"{change.person_id}: taken back: {told}.")
    if change.kind == "import":
        tables.say("The file can be imported again.")


def _list(house: Household, people: "dict[str, Person]", named: str | None) -> None:
    from gramrise.cli import tables

    changes = house.store.last_changes(named, LISTED)
    tables.show(
        "The last changes",
        [("no.", "right"), ("made", "left"), ("who", "left"), ("what", "left")],
        [
            (
                str(change.change_id),
                tables.local(change.made_at_utc, people[change.person_id]),
                change.person_id,
                ("taken back: " if change.taken_back_at_utc is not None else "")
                + described(change, people[change.person_id]),
            )
            for change in changes
        ],
        empty="Nothing was changed yet.",
    )
    if changes:
        tables.say("gramrise undo NUMBER takes one back, and nothing else.")


def described(change: "Change", person: "Person") -> str:
    """What a change was, in a few words."""
    about = change.about
    if change.kind == "given":
        given = ", ".join(_given(each, person) for each in about["doses"])
        return f"glucose given: {given}" if given else "a line logged with give"
    if change.kind == "import":
        return f"file {about['file']} ({about['rows']} rows)"
    if change.kind == "weighing":
        return f"weighing: {about['kg']:.1f} kg on {date.fromisoformat(about['on'])}"
    if change.kind == "answer":
        from gramrise.cli.sentences import answer_words, counted

        number = len(about["question_ids"])
        to = f"to {counted(number, 'question')}" if number > 1 else f"to: {about['sentence']}"
        return f"answer '{answer_words(about['answer'], about['kind'])}' {to}"
    return "; ".join(dict.fromkeys(_fact(*fact) for fact in about["facts"]))


def _given(dose: dict[str, Any], person: "Person") -> str:
    from gramrise.cli import tables

    amount = "?" if dose["amount"] is None else f"{dose['amount']:g}"
    words = [amount, dose["amount_unit"], dose["source"]]
    at = tables.local(datetime.fromisoformat(dose["taken_at_utc"]), person)
    return f"{' '.join(word for word in words if word)} at {at}"


def _fact(fact: str, from_on: str, _before: str | None, after: str | None) -> str:
    named = fact.replace("_", " ")
    if after is None:
        return f"{named} from {from_on} taken out"
    return f"{named} set" + (f" from {from_on}" if from_on else "")
