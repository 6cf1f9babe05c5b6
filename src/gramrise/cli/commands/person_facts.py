"""gramrise person set: facts about a person that change, from a date on."""

from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Any

import typer

from gramrise.cli.cards_ended import telling_ended_cards
from gramrise.cli.changed_facts import doubted_by_age, from_day, not_yet_on_that_clock, weight_waits, what_was_set
from gramrise.cli.commands.persons import FromOption, IdArgument, people
from gramrise.cli.context import Household
from gramrise.cli.parse import birth_date, choice, decimal_option, one_line, one_of, target_level, time_bands, time_zone
from gramrise.domain.problems import WrongUse


def register(_app: typer.Typer) -> None:
    people.command("set")(change)


def change(
    context: typer.Context,
    person_id: IdArgument,
    since: FromOption = None,
    name: Annotated[str | None, typer.Option(help="Name as printed on reports and cards.")] = None,
    born: Annotated[str | None, typer.Option(metavar="DATE", help="Birth date, where it was a slip.")] = None,
    zone: Annotated[str | None, typer.Option(help="Time zone from the date on.")] = None,
    unit: Annotated[str | None, typer.Option(help="mg/dL or mmol/L.")] = None,
    language: Annotated[str | None, typer.Option(help="en or de.")] = None,
    sex: Annotated[str | None, typer.Option(help="boy, girl or ''.")] = None,
    delivery: Annotated[str | None, typer.Option(help="injections, pump or automated.")] = None,
    target_mg_dl: Annotated[float | None, decimal_option("Level the first amount aims at, mg/dL.")] = None,
    table: Annotated[str | None, typer.Option(help="Starting table: taught or trials.")] = None,
    band: Annotated[list[str] | None, typer.Option(help="NAME=07:00-22:00; give all bands of the day.")] = None,
    log_complete: Annotated[bool | None, typer.Option(help="Every glucose given is logged, from the date on.")] = None,
) -> None:
    """Change what is known, from a date on; what depends on it is recomputed."""
    from gramrise.cli import tables
    from gramrise.domain.starting import STARTING_TABLES
    from gramrise.domain.units import GlucoseUnit
    from gramrise.domain.words import Delivery
    from gramrise.nightly import read_on_another_clock
    from gramrise.report import screen_words

    house: Household = context.obj
    person = house.person(person_id)
    day = from_day(since, person, house)
    today = house.now_utc().astimezone(person.zone_now()).date()
    always: dict[str, tuple[Any, Callable[[Any], Any]]] = {
        "name": (name, one_line),
        "born": (born, lambda text: birth_date(text, today, person.language)),
        "unit": (unit, lambda text: one_of(GlucoseUnit, text, "unit")),
        "language": (language, lambda text: choice(text, ("en", "de"), "language")),
        "sex": (sex, lambda text: choice(text, ("", "boy", "girl"), "sex")),
        "starting_table": (table, lambda text: choice(text, tuple(STARTING_TABLES), "table")),
    }
    dated: dict[str, tuple[Any, Callable[[Any], Any]]] = {
        "zone": (zone, time_zone),
        "delivery": (delivery, lambda text: one_of(Delivery, text, "delivery")),
        "target_mg_dl": (target_mg_dl, target_level),
        "bands": (band or None, time_bands),
        "log_complete_from": (log_complete, bool),
    }
    changes = {fact: read(typed) for fact, (typed, read) in always.items() if typed is not None}
    changes |= {
        fact: getattr(person, fact).with_entry(day, read(typed))
        for fact, (typed, read) in dated.items()
        if typed is not None
    }
    if not changes:
        raise WrongUse("nothing to change was given", "gramrise person set --help lists what can be set")
    changed = replace(person, **changes)
    doubted = doubted_by_age(house, changed) if changed.born != person.born else None
    with telling_ended_cards(house, person.person_id):
        house.store.save_person(changed, house.now_utc(), doubted)
    for line in what_was_set(changed, tuple(changes), day):
        tables.say(f"{person_id}: {line}")
    words = screen_words(changed.language)
    if "zone" in changes:
        if day == house.now_utc().astimezone(changed.zone_now()).date() and changed.zone_now() != person.zone_now():
            tables.warn(words.say("undo.whole_day", day=words.day(day)))
        for line in not_yet_on_that_clock(changed, person.zone_now(), house.now_utc()):
            tables.warn(line)
        other = read_on_another_clock(house.store, person, changed, words)
        if other:
            tables.warn(other)
    for question in doubted or ():
        tables.warn(weight_waits(question, changed))
    if doubted:
        raise typer.Exit(1)
