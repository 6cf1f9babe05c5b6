"""gramrise drift: whose number moved since the signed reference, how sure, and how much of it is growth."""

from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.commands.findings import JsonOption, PersonOption
from gramrise.cli.context import Household

if TYPE_CHECKING:
    import polars as pl

    from gramrise.domain.drift import ReferencePoint
    from gramrise.domain.person import Person

SinceOption = Annotated[
    str | None, typer.Option("--since", metavar="DATE", help="Compare with this day instead of what was signed.")
]


def register(app: typer.Typer) -> None:
    app.command()(drift)


def drift(
    context: typer.Context, person: PersonOption = None, since: SinceOption = None, as_json: JsonOption = False
) -> None:
    """Whether a number moved since it was signed, how sure that is, and how much of it is growth."""
    from gramrise.cli.parse import local_date
    from gramrise.nightly import current_drift

    house: Household = context.obj
    who = house.person(person)
    now_utc = house.now_utc()
    day = None if since is None else local_date(since)
    references = _references(house, who, day)
    frame = current_drift(house.store, who, references, now_utc, house.home)
    if as_json:
        from gramrise.cli import documents

        print(documents.document("drift", frame))
        return
    _show(who, frame, signed=day is None)


def _references(house: Household, who: "Person", day: date | None) -> "tuple[ReferencePoint, ...]":
    from gramrise.nightly import points_on, signed_points

    if day is not None:
        return points_on(who, day, house.now_utc())
    return signed_points(who, house.store.references_of(who.person_id))


def _show(who: "Person", frame: "pl.DataFrame", signed: bool) -> None:
    """One sentence a band, and the numbers below."""
    from gramrise.cli import tables
    from gramrise.report import drift_lines, drift_sentence, words_for

    words = words_for("en", str(who.unit), who.zone_now().key)
    lines = drift_lines(who, frame, signed)
    for line in lines:
        tables.say(drift_sentence(line, words))
    tables.show(
        f"Now against the reference, {who.person_id}",
        [
            ("time band", "left"),
            ("ratio", "right"),
            ("likely", "right"),
            ("growth", "right"),
            ("beyond 15 %", "right"),
            ("how", "left"),
            ("changed about", "left"),
        ],
        [
            (
                line.band,
                f"{line.ratio:.2f}",
                f"{line.ratio_p05:.2f}-{line.ratio_p95:.2f}",
                f"{line.growth_ratio:.2f}",
                words.chance(line.probability_moved),
                {"none": ""}.get(line.shape, line.shape),
                "" if line.change_on is None else f"{line.change_on} ({line.change_p05_on} to {line.change_p95_on})",
            )
            for line in lines
        ],
        empty="Nothing to compare with: no number is signed yet. gramrise sign PERSON --by NAME, or --since DATE.",
    )
    if lines:
        tables.say(
            "likely: 9 of 10 such ranges hold the true ratio. beyond 15 %: probability of a change of more than 15 % "
            "that growth does not explain. Never a cause."
        )
