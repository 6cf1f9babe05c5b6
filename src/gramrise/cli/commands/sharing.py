"""gramrise demo | report | schema: what is shown to people and to programs."""

from datetime import date, timedelta
from pathlib import Path
from typing import Annotated

import typer

from gramrise.cli.commands.findings import JsonOption, PersonOption
from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse

OutOption = Annotated[Path | None, typer.Option("--out", help="Folder to write to; else `reports` in the home.")]


def register(app: typer.Typer) -> None:
    for command in (demo, report, schema):
        app.command()(command)


def report(
    context: typer.Context,
    person: PersonOption = None,
    week_end: Annotated[
        str | None, typer.Option(metavar="DATE", help="Last day of the week; else the last day with readings.")
    ] = None,
    out: OutOption = None,
    paper: Annotated[str | None, typer.Option(help="a4 or letter; else as your settings say.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Write the weekly report of one person as PDF and HTML."""
    from gramrise.cli import tables
    from gramrise.nightly import view_of_week, write_report
    from gramrise.store import SAW

    house: Household = context.obj
    who = house.person(person)
    if paper not in {None, "a4", "letter"}:
        raise WrongUse(f"'{paper}' is no paper size", "a4 or letter")
    day = _date(week_end)
    tomorrow = house.now_utc().astimezone(who.zone_now()).date() + timedelta(days=1)
    if day is not None and day > tomorrow:
        raise WrongUse(f"the week to {day.isoformat()} has not been yet", "give a day up to today, or none")
    view = view_of_week(house.store, who.person_id, day, house.now_utc(), house.home)
    house.store.trail.note(house.store.actor, SAW, "report", house.now_utc(), who.person_id)
    if as_json:
        print(view.model_dump_json(indent=1, by_alias=True))
        return
    for written in write_report(view, out or house.home / "reports", paper=paper, home=house.home):
        tables.say(house.spoken(f"wrote {written}"))


def schema(
    name: Annotated[str | None, typer.Argument(help="Name of the document; left out: the names.")] = None,
) -> None:
    """The JSON schema of what a command prints with --json."""
    from gramrise.cli import documents

    print("\n".join(documents.schema_names()) if name is None else documents.schema(name))


def demo(
    folder: Annotated[Path, typer.Argument(help="Folder for the demo's data and reports.")] = Path("gramrise-demo"),
) -> None:
    """Three invented families, everything run: their treated lows, rise factors and written reports in view."""
    from gramrise.cli.demonstration import run_demo

    run_demo(folder)


def _date(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as problem:
        raise WrongUse(f"'{text}' is not a date", "write YYYY-MM-DD") from problem
