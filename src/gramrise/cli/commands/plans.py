"""gramrise person plan: the care plan as the care team agreed it, written down; and its blank sheet."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gramrise.cli.changed_facts import from_day, with_plan
from gramrise.cli.commands.persons import FromOption, IdArgument, people, save_changed
from gramrise.cli.context import Household
from gramrise.cli.parse import decimal_option, one_line, plan_grams, plan_minutes
from gramrise.domain.problems import WrongUse
from gramrise.intake import local_date

if TYPE_CHECKING:
    from gramrise.domain.care_plan import CarePlan
    from gramrise.domain.person import Person
    from gramrise.report import ScreenWords


NAME_ALL = "Name all in one command, or take it back: gramrise undo."


def register(_app: typer.Typer) -> None:
    people.command("plan")(plan)


def plan(
    context: typer.Context,
    person_id: IdArgument,
    sheet: Annotated[bool, typer.Option("--sheet", help="Write the blank sheet that the clinic completes.")] = False,
    standard_grams: Annotated[float | None, decimal_option("For a low, g of glucose.")] = None,
    below_54_grams: Annotated[float | None, decimal_option("Below 54 mg/dL (3.0 mmol/L), g.")] = None,
    least_grams: Annotated[float | None, decimal_option("Never less than this at first, g.")] = None,
    most_grams: Annotated[float | None, decimal_option("Never more than this at first, g.")] = None,
    look_again_minutes: Annotated[int | None, typer.Option(help="When to look again, minutes.")] = None,
    second_grams: Annotated[float | None, decimal_option("The second amount, g.")] = None,
    early: Annotated[bool | None, typer.Option(help="The plan allows glucose at 70-79 when falling.")] = None,
    early_grams: Annotated[float | None, decimal_option("And how much, g.")] = None,
    automated_grams: Annotated[float | None, decimal_option("For a low with automated delivery, g.")] = None,
    contact: Annotated[list[str] | None, typer.Option(help="Whom to call; may be repeated.")] = None,
    call_when: Annotated[str | None, typer.Option(help="When to call.")] = None,
    glucagon: Annotated[str | None, typer.Option(help="Which glucagon, how much.")] = None,
    glucagon_where: Annotated[str | None, typer.Option(help="Where glucagon is kept.")] = None,
    vomiting: Annotated[str | None, typer.Option(help="At vomiting or refusal, beyond the printed text.")] = None,
    sport: Annotated[str | None, typer.Option(help="Sport and the night after.")] = None,
    illness: Annotated[str | None, typer.Option(help="Illness.")] = None,
    in_puberty: Annotated[bool | None, typer.Option(help="Then a plan holds for 3 months, not 6.")] = None,
    approved_by: Annotated[str | None, typer.Option(help="Who approved the plan.")] = None,
    approved_role: Annotated[str | None, typer.Option(help="Their role.")] = None,
    approved_on: Annotated[str | None, typer.Option(metavar="DATE", help="Day of the approval.")] = None,
    valid_until: Annotated[str | None, typer.Option(metavar="DATE", help="Last day of the plan.")] = None,
    school_grams: Annotated[float | None, decimal_option("School: the one amount, g.")] = None,
    school_year_from: Annotated[str | None, typer.Option(metavar="DATE", help="School year, first day.")] = None,
    school_year_until: Annotated[str | None, typer.Option(metavar="DATE", help="School year, last day.")] = None,
    authorised_by_parent: Annotated[str | None, typer.Option(help="School: the parent who authorised it.")] = None,
    authorised_on: Annotated[str | None, typer.Option(metavar="DATE", help="And when.")] = None,
    staff: Annotated[list[str] | None, typer.Option(help="School: trained staff; may be repeated.")] = None,
    kit: Annotated[str | None, typer.Option(help="School: what is in the kit, and where it is.")] = None,
    kit_expires: Annotated[str | None, typer.Option(metavar="DATE", help="School: the kit's first expiry.")] = None,
    school_glucagon_where: Annotated[str | None, typer.Option(help="School: where glucagon is kept there.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="Folder of the sheet; else `reports` in the home.")] = None,
    since: FromOption = None,
) -> None:
    """Write down the care plan, each version dated; nothing of it is ever computed. Without options: show it."""
    from gramrise.cli import tables

    house: Household = context.obj
    person = house.person(person_id)
    if sheet:
        tables.say(house.spoken(f"wrote {_write_sheet(house, person, out)}"))
        return
    day = from_day(since, person, house)
    changes = _stated(
        {
            "standard_grams": plan_grams(standard_grams),
            "below_54_grams": plan_grams(below_54_grams),
            "least_grams": plan_grams(least_grams),
            "most_grams": plan_grams(most_grams),
            "look_again_minutes": plan_minutes(look_again_minutes),
            "second_grams": plan_grams(second_grams),
            "early_grams_allowed": early,
            "early_grams": plan_grams(early_grams),
            "automated_grams": plan_grams(automated_grams),
            "contacts": _lines(contact),
            "call_when": _line(call_when),
            "glucagon": _line(glucagon),
            "glucagon_where": _line(glucagon_where),
            "vomiting": _line(vomiting),
            "sport": _line(sport),
            "illness": _line(illness),
            "in_puberty": in_puberty,
            "approved_by": _line(approved_by),
            "approved_role": _line(approved_role),
            "approved_on": _day(approved_on, person),
            "valid_until": _day(valid_until, person),
        }
    )
    at_school = _stated(
        {
            "grams": plan_grams(school_grams),
            "year_from": _day(school_year_from, person),
            "year_until": _day(school_year_until, person),
            "authorised_by_parent": _line(authorised_by_parent),
            "authorised_on": _day(authorised_on, person),
            "staff": _lines(staff),
            "kit": _line(kit),
            "kit_expires_on": _day(kit_expires, person),
            "glucagon_where": _line(school_glucagon_where),
        }
    )
    if not changes and not at_school:
        _show(house, person)
        return
    _write_down(house, person, changes, at_school, day)


def _write_down(
    house: Household, person: "Person", changes: dict[str, Any], at_school: dict[str, Any], day: date
) -> None:
    from dataclasses import replace

    from gramrise.cli import tables
    from gramrise.domain.care_plan import CarePlan, contradictions, has_number

    standing = person.care_plan.on(day) or CarePlan()
    if at_school:
        changes = changes | {"school": replace(standing.school, **at_school)}
    approved_on = changes.get("approved_on")
    if approved_on is not None and approved_on > house.now_utc().astimezone(person.zone_now()).date():
        raise WrongUse(f"{approved_on} is still to come", "write the day on which the clinic approved the plan")
    dropped = None
    if approved_on is not None and "valid_until" not in changes:
        # A new approval begins a new time; the last day is never carried on.
        dropped, changes = standing.valid_until, changes | {"valid_until": None}
    changed = replace(person, care_plan=with_plan(person.care_plan, changes, day))
    _refuse_too_long(changed, day)
    save_changed(house, changed)
    tables.say(house.spoken(f"{person.person_id}: plan written down, from {day.isoformat()}."))
    if dropped is not None:
        until = dropped.isoformat()
        tables.warn(
            house.spoken(f"The last day of before, {until}, is not of this approval: --valid-until names its own.")
        )
    for told in _no_longer(standing, changed.care_plan.on(day) or CarePlan()):
        tables.warn(house.spoken(f"No longer in the plan: {told}. {NAME_ALL}"))
    for contact in changes.get("contacts", ()):
        if not has_number(contact):
            told = f"'{contact}' has no number to call. The whole list again, with numbers: --contact 'WHO NUMBER'."
            tables.warn(house.spoken(told))
    later = [since for since, _ in person.care_plan.entries if since > day]
    if later:
        tables.warn(house.spoken(f"What the plan of {later[0].isoformat()} states otherwise holds from that day on."))
    asked = contradictions(changed.care_plan.on(day) or CarePlan(), person.weights_kg.latest())
    for code in asked:
        tables.warn(_sentence(changed, code))
    if asked:
        raise typer.Exit(1)


def _no_longer(before: "CarePlan", now: "CarePlan") -> list[str]:
    """Contacts and staff that a new list leaves out."""
    return [
        each
        for then, kept in ((before.contacts, now.contacts), (before.school.staff, now.school.staff))
        for each in then
        if each not in kept
    ]


def _refuse_too_long(person: "Person", day: date) -> None:
    from gramrise.domain.care_plan import CarePlan, valid_until_at_most

    plan = person.care_plan.on(day) or CarePlan()
    if plan.valid_until is None:
        return
    begins = plan.approved_on or day
    latest = valid_until_at_most(person.born, plan.in_puberty, begins)
    if plan.valid_until > latest:
        raise WrongUse(
            f"a plan approved on {begins.isoformat()} holds until {latest.isoformat()} at the latest",
            "give that day or an earlier one; 6 months, 3 in puberty or under 6 years",
        )
    if plan.approved_on is not None and plan.valid_until < plan.approved_on:
        raise WrongUse("the last day of the plan lies before its approval", "look at --approved-on and --valid-until")


def _sentence(person: "Person", code: str) -> str:
    """Why a plan withholds every card, in the person's language."""
    from gramrise.report import SHIPPED_SETTINGS, words_for

    words = words_for(person.language, person.unit, "UTC")
    below = SHIPPED_SETTINGS.rows(person.unit)[0][0]
    level = words.number(below, 0 if words.unit == "mg/dL" else 1)
    return words.say(f"on_card.withheld.{code}", person=person.person_id, level=level)


def _show(house: Household, person: "Person") -> None:
    """The plan that holds today, line by line as it was typed."""
    from dataclasses import asdict

    from gramrise.cli import tables
    from gramrise.domain.care_plan import CarePlan, last_day_of
    from gramrise.report import screen_words

    today = house.now_utc().astimezone(person.zone_now()).date()
    begun = [since for since, _ in person.care_plan.entries if since <= today]
    plan = person.care_plan.on(today) or CarePlan()
    if not begun:
        who = person.person_id
        tables.say(house.spoken(f"{who} has no care plan yet: gramrise person plan {who} --sheet."))
        return
    words = screen_words(person.language)
    until = words.day(last_day_of(plan, person.born, begun[-1]))
    tables.say(words.say("plan.holds", person=person.person_id, since=words.day(begun[-1]), until=until))
    school = {f"school_{name}": value for name, value in asdict(plan.school).items()}
    for name, value in ({k: v for k, v in asdict(plan).items() if k != "school"} | school).items():
        tables.say_line(f"  {words.say(f'plan_line.{name}')}: {_line_said(value, words)}")


def _line_said(value: object, words: "ScreenWords") -> str:
    """What a line of the plan says; '-' for nothing."""
    match value:
        case None | "" | ():
            return "-"
        case bool():
            return words.say("plan.yes" if value else "plan.no")
        case date():
            return words.day(value)
        case tuple() | list():
            return ", ".join(value)
        case int() | float():
            return words.amount(value)
    return str(value)


def _write_sheet(house: Household, person: "Person", out: Path | None) -> Path:
    from gramrise.config.private_files import private_folder, write_whole
    from gramrise.config.settings import load
    from gramrise.report import CardSettings, plan_sheet_pdf

    folder = out or house.home / "reports"
    private_folder(folder)
    path = folder / f"{person.person_id}-card-0-plan.pdf"
    write_whole(path, plan_sheet_pdf(person, house.now_utc(), load("card", CardSettings, house.home)))
    return path


def _stated(given: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in given.items() if value is not None}


def _line(text: str | None) -> str | None:
    return None if text is None else one_line(text)


def _lines(texts: list[str] | None) -> tuple[str, ...] | None:
    """The lines that were typed, without empty ones: these take the list away."""
    return tuple(line for text in texts if (line := one_line(text))) if texts else None


def _day(text: str | None, person: "Person") -> date | None:
    return None if text is None else local_date(text, person.language)
