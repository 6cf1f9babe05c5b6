"""gramrise person add | list | weigh | set | source: who, and what is known about them, all dated."""

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.cards_ended import telling_ended_cards
from gramrise.cli.changed_facts import from_day, weighed
from gramrise.cli.context import Household
from gramrise.cli.parse import (
    birth_date,
    body_weight,
    check_strength,
    choice,
    decimal_option,
    one_line,
    one_of,
    past_date,
    source_name,
    time_zone,
)
from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from gramrise.cli.guided_add import Told
    from gramrise.domain.person import Person

IdArgument = Annotated[str, typer.Argument(metavar="ID", help="Short name of the person in this household.")]
FromOption = Annotated[str | None, typer.Option("--from", metavar="DATE", help="Date from which it holds; else today.")]

MAY_BE_WEAKER = "Nobody said what the stated grams are of; as monohydrate it would hold 9 % less: --stated-as."

people = typer.Typer(help="Who, and what is known about them; every change carries its date.", rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    app.add_typer(people, name="person")


@people.command("add")
def add(
    context: typer.Context,
    person_id: IdArgument,
    born: Annotated[str | None, typer.Option(metavar="DATE", help="Birth date, YYYY-MM-DD.")] = None,
    zone: Annotated[
        str | None, typer.Option(help="Time zone as in the tz data: Europe/Berlin, America/Chicago.")
    ] = None,
    weight_kg: Annotated[float | None, decimal_option("Body weight today, kg.")] = None,
    unit: Annotated[str, typer.Option(help="mg/dL or mmol/L: the unit this person reads.")] = "",
    name: Annotated[str, typer.Option(help="Name as printed on reports and cards.")] = "",
    sex: Annotated[str, typer.Option(help="boy or girl: chooses the growth reference; may be left out.")] = "",
    language: Annotated[str, typer.Option(help="en or de: the language of reports.")] = "",
) -> None:
    """Add a person; at a terminal, what is missing is asked for. There is no default zone."""
    from dataclasses import replace as changed

    from gramrise.cli import guided_add

    house: Household = context.obj
    known = {person.person_id.casefold(): person.person_id for person in house.store.persons()}
    if person_id.casefold() in known:
        raise WrongUse(f"'{known[person_id.casefold()]}' is known already", "gramrise person set, or another ID")
    if not person_id.replace("-", "").replace("_", "").isalnum():
        raise WrongUse(f"'{person_id}' cannot be an ID", "use letters, digits, - and _")
    weight = "" if weight_kg is None else f"{weight_kg:g}"
    told = guided_add.Told(born or "", zone or "", weight, unit, name, language)
    if not (born and zone):
        if not guided_add.somebody_types():
            missing = "--zone" if born else "--born"
            why = "a wrong guess would file night under day" if born else "growth and the cards hang on it"
            raise typer.BadParameter(f"it is missing; there is no default, {why}", param_hint=missing)
        told = guided_add.ask_for(told, house.now_utc().date(), guided_add.read_line)
    told = changed(told, unit=told.unit or "mg/dL", language=told.language or "en")
    _added(house, person_id, told, sex)


def _added(house: Household, person_id: str, told: "Told", sex: str) -> None:
    """Save a new person, and say what comes next."""
    from gramrise.cli import guided_add, tables
    from gramrise.cli.changed_facts import with_plan
    from gramrise.domain.person import Dated, Person
    from gramrise.domain.units import GlucoseUnit
    from gramrise.report import screen_words

    where = time_zone(told.zone)
    today = house.now_utc().astimezone(where).date()
    birthday = birth_date(told.born, today, told.language)
    person = Person(
        person_id=person_id,
        born=birthday,
        zone=Dated(((birthday, where),)),
        unit=one_of(GlucoseUnit, told.unit, "unit"),
        name=one_line(told.name),
        sex=choice(sex, ("", "boy", "girl"), "sex"),
        language=choice(told.language, ("en", "de"), "language"),
    )
    kg = None if not told.weight else body_weight(told.weight)
    if told.contacts:
        person = replace(person, care_plan=with_plan(person.care_plan, {"contacts": told.contacts}, today))
    house.store.save_person(person)
    odd = "" if kg is None else weighed(house, person, today, kg)
    words = screen_words(person.language)
    tables.say(words.say("add.known", person=person_id))
    tables.say(words.say("add.plan", person=person_id))
    if told.recipient:
        tables.say(guided_add.name_recipient(house, person_id, told.recipient, words))
    if kg is None:
        tables.warn(words.say("add.no_weight", person=person_id))
    if odd:
        tables.warn(odd)
        raise typer.Exit(1)


@people.command("list")
def listing(context: typer.Context) -> None:
    """Everybody known here."""
    from gramrise.cli import tables

    house: Household = context.obj
    words = house.words()
    tables.show(
        words.say("people.title"),
        [
            (words.say("people.id"), "left"),
            (words.say("people.born"), "left"),
            (words.say("people.zone"), "left"),
            (words.say("people.unit"), "left"),
            ("kg", "right"),
            (words.say("people.gives"), "left"),
        ],
        [
            (
                person.person_id,
                person.born.isoformat(),
                person.zone_now().key,
                str(person.unit),
                "?" if (kg := person.weights_kg.latest()) is None else words.number(kg, 1),
                ", ".join(source.name for source in person.sources_now()),
            )
            for person in house.store.persons()
        ],
        empty=words.say("people.none"),
    )


@people.command("weigh")
def weigh(
    context: typer.Context,
    person_id: IdArgument,
    weight: Annotated[str, typer.Argument(help="A number and its unit, kg or lb; a bare number is kg.")],
    on: Annotated[str | None, typer.Option(metavar="DATE", help="Day of the weighing; else today.")] = None,
) -> None:
    """Record a weighing."""
    from gramrise.cli import tables

    house: Household = context.obj
    kg = body_weight(weight)
    person = house.person(person_id)
    today = house.now_utc().astimezone(person.zone_now()).date()
    day = past_date(on, today, "the weighing", person.language) if on else today
    if day < person.born:
        raise WrongUse(f"the weighing of {day.isoformat()} is before the birth, {person.born}", "look at the year")
    told = weighed(house, person, day, kg)
    on_day = day.isoformat()
    if told:
        tables.say(house.spoken(f"{person_id}: {kg:.1f} kg on {on_day}, not counted yet."))
        tables.warn(told)
        raise typer.Exit(1)
    tables.say(house.spoken(f"{person_id}: {kg:.1f} kg on {on_day}."))


@people.command("source")
def source(
    context: typer.Context,
    person_id: IdArgument,
    name: Annotated[str, typer.Argument(help="What the family calls it: candy, night bottle.")],
    form: Annotated[str | None, typer.Option(help="tablet, liquid or gel; candies are tablets.")] = None,
    grams_per_piece: Annotated[float | None, decimal_option("g in one piece, as stated.")] = None,
    grams_per_ml: Annotated[float | None, decimal_option("g in one mL, as stated: 15 g in 60 mL is 0.25.")] = None,
    label: Annotated[str | None, typer.Option(help="As printed: '12 g in 13 pieces', '15 g in 60 mL'.")] = None,
    stated_as: Annotated[
        str, typer.Option(help="What the stated grams are: anhydrous, monohydrate, 'label carbohydrate' or unknown.")
    ] = "unknown",
    home_mixed: Annotated[bool, typer.Option(help="Mixed at home, not sealed.")] = False,
    also: Annotated[list[str] | None, typer.Option(help="Another word for it in the log; may be repeated.")] = None,
    gone: Annotated[
        bool, typer.Option("--gone", help="It was a slip; with --from: not used from that day on.")
    ] = False,
    meant: Annotated[bool, typer.Option("--meant", help="An unusual strength, or half or twice the old one.")] = False,
    since: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="Date from which it holds; else for all the time.")
    ] = None,
) -> None:
    """State the strength of one form of glucose; without --from for all the time that nothing else is stated for."""
    from gramrise.cli import tables
    from gramrise.cli.stated_sources import refuse_slip, strength_of_label
    from gramrise.domain.sources import AmountUnit, Form, Source, StatedAs
    from gramrise.domain.stated_sources import with_source, without_source
    from gramrise.nightly import lost_strengths
    from gramrise.report import screen_words

    house: Household = context.obj
    person = house.person(person_id)
    name = source_name(name)
    name = next((one.name for one in person.sources_now() if one.name.casefold() == name.casefold()), name)
    if gone:
        day = from_day(since, person, house) if since else None
        save_changed(house, replace(person, sources=without_source(person.sources, name, day)))
        told = f"{name}: not used from {day.isoformat()}." if day else f"{name}: not used, at no time."
        tables.say(house.spoken(told))
        for said in lost_strengths(house.store, person, screen_words(person.language)):
            tables.warn(said)
        return
    if form is None:
        raise WrongUse("the form is not stated", "add --form tablet, --form liquid or --form gel")
    if label is not None:
        grams_per_piece, grams_per_ml = strength_of_label(label, grams_per_piece, grams_per_ml)
    check_strength(grams_per_piece, grams_per_ml)
    stated = Source(
        name=name,
        form=one_of(Form, form, "form"),
        grams_per_piece=grams_per_piece,
        grams_per_ml=grams_per_ml,
        stated_as=one_of(StatedAs, stated_as, "stated-as"),
        sealed=not home_mixed,
        other_names=tuple(source_name(word) for word in also or ()),
    )
    day = from_day(since, person, house) if since else person.born
    if not meant:
        refuse_slip(stated, person.sources_now(), dated=since is not None)
    save_changed(house, replace(person, sources=with_source(person.sources, stated, day)))
    words = screen_words(person.language)
    unit = words.say("unit.one_piece") if stated.unit is AmountUnit.PIECE else stated.unit
    holds = f"{words.pointed(f'{stated.glucose_per_unit_g:.3g}')} g of glucose per {unit}"
    tables.say(house.spoken(f"{name}: {holds}, from {day.isoformat()}."))
    if stated.may_be_weaker:
        tables.warn(house.spoken(MAY_BE_WEAKER))


def save_changed(house: Household, person: "Person") -> None:
    """Save a change, so that `undo` can take it back. Whoever reads the findings next has them brought up to date."""
    with telling_ended_cards(house, person.person_id):
        house.store.save_person(person, house.now_utc())
