"""gramrise undo: the last changes, and taking one of them back."""

from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.report import ScreenWords
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
    person: Annotated[str | None, typer.Option("--person", help="This person's only.")] = None,
    last: Annotated[int, typer.Option("--last", min=1, help="How many are listed.")] = LISTED,
) -> None:
    """List the last changes, or take one back, whole: glucose given, a file, a weighing, a count, an answer, a fact."""
    from gramrise.cli import tables
    from gramrise.cli.cards_ended import telling_ended_cards_of_all
    from gramrise.nightly import described, lost_strengths, read_on_another_clock
    from gramrise.report import screen_words

    house: Household = context.obj
    people = {each.person_id: each for each in house.store.persons()}
    if what is None:
        _list(house, people, house.person(person).person_id if person is not None else None, last)
        return
    if not what.isdigit():
        raise WrongUse(f"'{what}' is no number of a change", "gramrise undo lists the last changes with their numbers")
    named = house.person(person).person_id if person is not None else None
    with telling_ended_cards_of_all(house, people if named is None else [named]):
        change = house.store.undo(int(what), house.now_utc(), named)
    whose = people[change.person_id]
    words = screen_words(whose.language)
    told = described(change, whose, words)
    if change.taken_back_at_utc is not None:
        tables.say(words.say("undo.before", number=change.change_id, what=told))
        return
    if any(fact == "born" for fact, *_ in change.about.get("facts", ())):
        _doubt_by_age(house, change.person_id)
    tables.say(words.say("undo.taken_back", person=change.person_id, what=told))
    if change.kind == "import":
        tables.say(words.say("undo.again"))
    if any(fact == "sources" for fact, *_ in change.about.get("facts", ())):
        for said in lost_strengths(house.store, whose, words):
            tables.warn(said)
    other = read_on_another_clock(house.store, whose, house.person(change.person_id), words, change.made_at_utc)
    if other:
        tables.warn(other)
    _judge_weights_anew(house, change.person_id)
    if change.stands_by:
        numbers = ", ".join(str(number) for number in change.stands_by)
        tables.say(words.say("undo.stands_by", numbers=numbers, number=change.stands_by[0]))


def _doubt_by_age(house: Household, person_id: str) -> None:
    """Asks about the weights beside the birth date that stands again."""
    from gramrise.cli.changed_facts import doubted_by_age

    person = house.person(person_id)
    house.store.doubt_by_age(person_id, doubted_by_age(house, person), house.now_utc())


def _judge_weights_anew(house: Household, person_id: str) -> None:
    """Says which weights count now that what they did not go with is gone, and what is still asked of others."""
    from gramrise.cli import tables
    from gramrise.cli.cards_ended import telling_ended_cards
    from gramrise.cli.changed_facts import weight_waits
    from gramrise.nightly import judge_weights_anew

    with telling_ended_cards(house, person_id):
        judged = judge_weights_anew(house.store, house.home, person_id, house.now_utc())
    for day, kg in judged.counting:
        tables.say(house.spoken(f"{person_id}: {kg:.1f} kg on {day.isoformat()}."))
    for question in judged.asked:
        tables.warn(weight_waits(question, house.person(person_id)))


def _list(house: Household, people: "dict[str, Person]", named: str | None, most: int) -> None:
    """The last changes, in the language of the person named, else of the first."""
    from gramrise.cli import tables
    from gramrise.nightly import described
    from gramrise.report import screen_words

    first = next(iter(people.values()), None) if named is None else people[named]
    words = screen_words(first.language if first is not None else "en")
    changes = house.store.last_changes(named, most + 1)
    tables.show(
        words.say("undo.title"),
        [
            (words.say("undo.number"), "right"),
            (words.say("undo.made"), "time"),
            (words.say("undo.who"), "left"),
            (words.say("undo.what"), "left"),
        ],
        [
            (
                str(change.change_id),
                tables.local(change.made_at_utc, people[change.person_id]),
                change.person_id,
                _standing(described(change, people[change.person_id], words), change, words),
            )
            for change in changes[:most]
        ],
        empty=words.say("undo.none"),
    )
    if len(changes) > most:
        tables.say(words.say("undo.older", more=2 * most))
    if changes:
        tables.say(words.say("undo.how"))


def _standing(told: str, change: "Change", words: "ScreenWords") -> str:
    return told if change.taken_back_at_utc is None else words.say("undo.gone", what=told)
