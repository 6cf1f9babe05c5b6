"""gramrise metrics | audit | panel: what a monitor reads, who did what, and whom a clinic's people see."""

from pathlib import Path
from typing import Annotated

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse

# Lines of the trail that are printed; our choice: a screen or two. `--most` says another number.
LATEST = 60


def register(app: typer.Typer) -> None:
    for command in (metrics, audit, panel):
        app.command()(command)


def metrics(
    context: typer.Context,
    to: Annotated[Path | None, typer.Option(metavar="FILE", help="Write them there instead, in one step.")] = None,
) -> None:
    """Numbers of the service for a metrics scraper: no health value, no name."""
    from gramrise.config.private_files import write_whole
    from gramrise.nightly import metrics_text

    house: Household = context.obj
    text = metrics_text(house.home, house.now_utc())
    if to is None:
        print(text.decode(), end="")
    else:
        write_whole(to, text, synced=False)


def audit(
    context: typer.Context,
    person: Annotated[str | None, typer.Option(metavar="ID", help="Only what is about this person.")] = None,
    most: Annotated[int, typer.Option(metavar="N", min=1, help="So many lines, the latest.")] = LATEST,
    sql: Annotated[
        bool, typer.Option("--sql", help="Print what a PostgreSQL administrator runs once to keep the trail apart.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json")] = False,
) -> None:
    """Who saw, changed, signed or took out what, latest first. The trail is only added to."""
    from gramrise.cli import documents, tables

    house: Household = context.obj
    if sql:
        print(house.store.trail.apart_sql())
        return
    codes = {house.store.trail.code_of(each.person_id): each.person_id for each in house.store.persons()}
    entries = house.store.trail.entries(None if person is None else house.person(person).person_id, most)
    rows = [
        {
            "at_utc": entry.at_utc,
            "who": entry.who,
            "role": entry.role,
            "did": entry.did,
            "what": entry.what,
            "person": codes.get(entry.person, entry.person),  # a code only: they are forgotten
        }
        for entry in entries
    ]
    if as_json:
        print(documents.written({"audit": rows}))
        return
    for row in rows:
        who = " ".join(str(row[name]) for name in ("who", "role") if row[name])
        about = f" of {row['person']}" if row["person"] else ""
        tables.say(
            f"{row['at_utc']:%Y-%m-%d %H:%M} UTC  {who}: {str(row['did']).replace('_', ' ')} {row['what']}{about}"
        )
    if not rows:
        house.say("Nothing stands in the trail yet.")


def panel(
    context: typer.Context,
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="A panel; left out: all are listed.")] = None,
    add: Annotated[
        list[str] | None, typer.Option(metavar="ID", help="Show this person in it; may be repeated.")
    ] = None,
    remove: Annotated[list[str] | None, typer.Option(metavar="ID", help="Show them in it no longer.")] = None,
) -> None:
    """Whose persons a clinic's people see: a named list. Who is in none is seen by no clinic."""
    from gramrise.cli import tables

    panels = context.obj.store.panels
    if name is None:
        if add or remove:
            raise WrongUse("panel: which one?", "gramrise panel NAME --add ID")
        for each, persons in panels.all().items():
            tables.say(f"{each}: {', '.join(persons)}")
        return
    panels.add(name, add or [])
    panels.remove(name, remove or [])
    tables.say(f"{name}: {', '.join(panels.persons_of(name)) or 'nobody'}")
