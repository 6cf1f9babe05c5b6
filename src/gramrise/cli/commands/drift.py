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
    from gramrise.report import DriftLine, ScreenWords

SinceOption = Annotated[
    str | None, typer.Option("--since", metavar="DATE", help="Compare with this day instead of what was signed.")
]


def register(app: typer.Typer) -> None:
    app.command()(drift)


def drift(
    context: typer.Context, person: PersonOption = None, since: SinceOption = None, as_json: JsonOption = False
) -> None:
    """Whether a number moved since it was signed, how sure that is, and how much of it is growth."""
    from gramrise.intake import local_date
    from gramrise.nightly import current_drift

    house: Household = context.obj
    who = house.person(person)
    now_utc = house.now_utc()
    house.note_look("drift", who)
    day = None if since is None else local_date(since, who.language)
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
    from gramrise.report import drift_lines, drift_sentence, screen_words, words_for

    sentences, words = words_for(who.language, str(who.unit), who.zone_now().key), screen_words(who.language)
    lines = drift_lines(who, frame, signed)
    for line in lines:
        tables.say(drift_sentence(line, sentences))
    tables.show(
        words.say("drift.title", person=who.person_id, day=words.day(lines[0].reference_on)) if lines else "",
        [
            (words.say("drift.band"), "left"),
            (words.say("drift.ratio"), "right"),
            (words.say("drift.likely"), "right"),
            (words.say("drift.growth"), "right"),
            (words.say("drift.beyond"), "right"),
            (words.say("drift.how"), "left"),
            (words.say("drift.changed"), "left"),
        ],
        [
            (
                tables.band_name(line.band, who),
                words.number(line.ratio, 2),
                f"{words.number(line.ratio_p05, 2)}-{words.number(line.ratio_p95, 2)}",
                words.number(line.growth_ratio, 2),
                sentences.chance(line.probability_moved),
                words.say(f"drift.shape_{line.shape}"),
                _changed(line, words),
            )
            for line in lines
        ],
        empty=words.say("drift.none"),
    )
    if lines:
        tables.say(words.say("drift.meaning"))


def _changed(line: "DriftLine", words: "ScreenWords") -> str:
    if line.change_on is None or line.change_p05_on is None or line.change_p95_on is None:
        return ""
    days = {"day": line.change_on, "first": line.change_p05_on, "last": line.change_p95_on}
    return words.say("drift.between", **{name: words.day(day) for name, day in days.items()})
