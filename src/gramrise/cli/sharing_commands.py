"""gramrise report | card | schema | demo: what is shown to people and to programs."""

from datetime import date, timedelta
from pathlib import Path
from typing import Annotated

import typer

from gramrise.cli.context import Household
from gramrise.cli.finding_commands import JsonOption, PersonOption
from gramrise.domain.problems import WrongUse

OutOption = Annotated[Path | None, typer.Option("--out", help="Folder to write to; else `reports` in the home.")]


def register(app: typer.Typer) -> None:
    for command in (demo, report, card, schema):
        app.command()(command)


def report(
    context: typer.Context,
    person: PersonOption = None,
    week_end: Annotated[
        str | None, typer.Option(metavar="DATE", help="Last day of the week; else the last day with readings.")
    ] = None,
    out: OutOption = None,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    as_json: JsonOption = False,
) -> None:
    """Write the weekly report of one person as PDF and HTML."""
    from gramrise.cli import tables
    from gramrise.nightly.weekly import view_of_week, write_report

    house: Household = context.obj
    who = house.person(person)
    if paper not in {"a4", "letter"}:
        raise WrongUse(f"'{paper}' is no paper size", "a4 or letter")
    end = _week_end(week_end)
    view = view_of_week(house.store, who.person_id, end, house.now_utc(), house.home)
    if as_json:
        print(view.model_dump_json(indent=1))
        return
    for written in write_report(view, out or house.home / "reports", paper=paper):
        tables.say(f"wrote {written}")


def card(
    context: typer.Context,
    person: PersonOption = None,
    source: Annotated[str | None, typer.Option(help="For which source; may be left out when there is only one.")] = None,
    for_school: Annotated[bool, typer.Option("--for-school", "--for", help="With contacts; sealed sources.")] = False,
    size: Annotated[str, typer.Option(help="wallet or fridge.")] = "fridge",
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the glucose card: the FIRST amount only, for one source."""
    raise WrongUse("the card is written later", "wait")


def schema(
    name: Annotated[str | None, typer.Argument(help="Name of the document; left out: the names.")] = None,
) -> None:
    """The JSON schema of what a command prints with --json."""
    from gramrise.cli import documents

    print("\n".join(documents.schema_names()) if name is None else documents.schema(name))


def demo(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(help="Folder for the demo's data and reports.")] = Path("gramrise-demo"),
) -> None:
    """Two invented families, everything run: their treated lows, rise factors and written reports in view."""
    from gramrise.cli.demonstration import run_demo

    house: Household = context.obj
    raise typer.Exit(run_demo(folder, house.now_utc()))


def _week_end(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as problem:
        raise WrongUse(f"'{text}' is not a date", "write YYYY-MM-DD") from problem


def last_full_week_end(today: date) -> date:
    """The Sunday before a date: reports cover whole weeks, Monday to Sunday."""
    return today - timedelta(days=today.isoweekday())
