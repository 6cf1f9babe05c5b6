"""gramrise sign: a clinician's sign-off of a person's number, and its history."""

from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.domain.references import EndedBy, SignedBand, SignedReference
    from gramrise.report import Words

# What ends a sign-off, in words for whoever typed the command.
ENDED = {
    "withdrawn": "taken back",
    "expired": "past its date",
    "bands": "the time bands have changed",
    "delivery": "insulin delivery has changed",
    "weight": "the body weight has moved by 5 %",
    "sources": "a strength has changed or its source is gone",
}
NO_AUTHENTICATION = "A typed name is no authentication: it says who is said to have looked, and proves nothing."


def register(app: typer.Typer) -> None:
    app.command()(sign)


def sign(
    context: typer.Context,
    person_id: Annotated[str, typer.Argument(metavar="PERSON")],
    by: Annotated[str | None, typer.Option("--by", metavar="NAME", help="Who signs.")] = None,
    role: Annotated[str, typer.Option("--role", help="Their role.")] = "",
    as_of: Annotated[
        str | None, typer.Option("--as-of", metavar="DATE", help="The number of this day; else of today.")
    ] = None,
    not_accepted: Annotated[bool, typer.Option("--not-accepted", help="Seen, not accepted.")] = False,
    valid_until: Annotated[
        str | None, typer.Option("--valid-until", metavar="DATE", help="Its last day; else as long as a care plan.")
    ] = None,
    delivery_settings: Annotated[
        str, typer.Option("--delivery-settings", help="Settings of the delivery that day, in your words.")
    ] = "",
    told: Annotated[str, typer.Option("--told", help="Who was told.")] = "",
    note: Annotated[str, typer.Option("--note", help="What else is to be kept with it.")] = "",
    listing: Annotated[bool, typer.Option("--list", help="All sign-offs, the latest first.")] = False,
    withdraw: Annotated[int | None, typer.Option("--withdraw", metavar="NUMBER", help="Take this one back.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Record that a clinician looked at the number: the signed reference that drift is measured from."""
    house: Household = context.obj
    person = house.person(person_id)
    if withdraw is not None:
        _withdraw(house, person, withdraw)
    elif listing or (by is None and as_json):
        _list(house, person, as_json)
    elif by is None:
        raise WrongUse("who signs?", f"gramrise sign {person.person_id} --by NAME --role ROLE, or --list")
    else:
        _sign(
            house,
            person,
            (by, role, told, note, delivery_settings),
            _day(as_of, person),
            _day(valid_until, person),
            not_accepted,
        )


def _sign(
    house: Household,
    person: "Person",
    texts: tuple[str, str, str, str, str],
    as_of: date | None,
    valid_until: date | None,
    not_accepted: bool,
) -> None:
    from gramrise.cli import tables
    from gramrise.nightly import SignOff, sign_reference

    by, role, told, note, settings = (" ".join(text.split()) for text in texts)
    if not by:
        raise WrongUse("who signs?", "--by takes a name")
    said = SignOff(by, role, not not_accepted, as_of, valid_until, settings, told, note)
    reference = sign_reference(house.store, person.person_id, said, house.now_utc(), house.home)
    _show(reference, person)
    for band in reference.bands:
        if reference.accepted and band.state != "own":
            tables.warn(f"{band.band} ({band.hours}) is still learning: {band.pairings_used} treatments used.")
    if reference.cards_superseded:
        cards = ", ".join(map(str, reference.cards_superseded))
        tables.say(f"Cards made before it that are out: {cards}. Print new ones, and gramrise card --gone NUMBER.")
    tables.say(NO_AUTHENTICATION)


def _show(reference: "SignedReference", person: "Person") -> None:
    from gramrise.cli import tables
    from gramrise.report import words_for

    words = words_for(person.language, person.unit, "UTC")
    seen = "signed" if reference.accepted else "seen, not accepted"
    by = reference.signed_by + (f" ({reference.role})" if reference.role else "")
    tables.show(
        f"{person.person_id}: no. {reference.number}, {seen} by {by}, the number of {reference.as_of.isoformat()}",
        [("band", "left"), ("1 g raises", "right"), ("likely", "right"), ("treatments", "right"), ("state", "left")],
        [
            (f"{band.band} {band.hours}", *_numbers(band, words), str(band.pairings_used), band.state)
            for band in reference.bands
        ],
        empty="No band.",
    )
    tables.say(f"Holds until {reference.valid_until.isoformat()}, unless what it rests on changes before.")


def _numbers(band: "SignedBand", words: "Words") -> tuple[str, str]:
    middle, low, high = band.factor_mg_dl_per_g, band.p05_factor_mg_dl_per_g, band.p95_factor_mg_dl_per_g
    if middle is None or low is None or high is None:
        return "-", "-"
    told = words.factor(middle, low, high)
    return told[0], f"{told[1]} to {told[2]}"


def _list(house: Household, person: "Person", as_json: bool) -> None:
    from gramrise.cli import tables
    from gramrise.nightly import references_with_ends

    found = references_with_ends(house.store, person, house.now_utc())
    if as_json:
        from gramrise.cli.reference_documents import references_document

        print(references_document(found))
        return
    tables.show(
        f"Sign-offs of {person.person_id}",
        [("no.", "right"), ("number of", "left"), ("by", "left"), ("said", "left"), ("holds", "left")],
        [
            (
                str(one.number),
                one.as_of.isoformat(),
                one.signed_by + (f", {one.role}" if one.role else ""),
                "accepted" if one.accepted else "seen, not accepted",
                _holds(one, ended),
            )
            for one, ended in found
        ],
        empty=f"Nothing has been signed yet. To sign today's number: gramrise sign {person.person_id} --by NAME",
    )
    if found:
        tables.say(NO_AUTHENTICATION)


def _holds(reference: "SignedReference", ended: "tuple[EndedBy, ...]") -> str:
    return "no: " + "; ".join(ENDED[code] for code in ended) if ended else f"until {reference.valid_until.isoformat()}"


def _withdraw(house: Household, person: "Person", number: int) -> None:
    from gramrise.cli import tables

    today = house.now_utc().astimezone(person.zone_now()).date()
    house.store.withdraw_reference(person.person_id, number, today)
    tables.say(f"{person.person_id}: sign-off {number} is taken back; it stays in the history.")


def _day(text: str | None, person: "Person") -> date | None:
    from gramrise.intake import local_date

    return None if text is None else local_date(text, person.language)
