"""gramrise sign: a clinician's sign-off of a person's number, and its history."""

from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.domain.references import EndedBy, SignedBand, SignedReference
    from gramrise.report import ScreenWords, Words


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
    from gramrise.report import screen_words

    by, role, told, note, settings = (" ".join(text.split()) for text in texts)
    if not by:
        raise WrongUse("who signs?", "--by takes a name")
    said = SignOff(by, role, not not_accepted, as_of, valid_until, settings, told, note)
    reference = sign_reference(house.store, person.person_id, said, house.now_utc(), house.home)
    words = screen_words(person.language)
    _show(reference, person)
    for band in reference.bands:
        if reference.accepted and band.state != "own":
            named = f"{tables.band_name(band.band, person)} ({band.hours})"
            tables.warn(words.say("sign.learning", band=named, count=band.pairings_used))
    if reference.cards_superseded:
        cards = ", ".join(map(str, reference.cards_superseded))
        tables.say(words.say("sign.cards", cards=cards))
    tables.say(words.say("sign.no_authentication"))


def _show(reference: "SignedReference", person: "Person") -> None:
    from gramrise.cli import tables
    from gramrise.report import screen_words, words_for

    words, screen = words_for(person.language, person.unit, "UTC"), screen_words(person.language)
    seen = screen.say("sign.signed" if reference.accepted else "sign.seen")
    by = reference.signed_by + (f" ({reference.role})" if reference.role else "")
    tables.show(
        screen.say(
            "sign.title",
            person=person.person_id,
            number=reference.number,
            seen=seen,
            by=by,
            day=_told_day(reference.as_of, screen),
        ),
        [
            (screen.say("sign.band"), "left"),
            (screen.say("sign.raises"), "right"),
            (screen.say("sign.likely"), "right"),
            (screen.say("sign.treatments"), "right"),
            (screen.say("sign.state"), "left"),
        ],
        [
            (
                f"{tables.band_name(band.band, person)} {band.hours}",
                *_numbers(band, words, screen),
                str(band.pairings_used),
                screen.say(f"state.{band.state}"),
            )
            for band in reference.bands
        ],
        empty=screen.say("sign.no_band"),
    )
    tables.say(screen.say("sign.holds_until", day=_told_day(reference.valid_until, screen)))


def _told_day(day: date, screen: "ScreenWords") -> str:
    """English keeps the form in which a date is typed; elsewhere a date reads as on the other screens."""
    return day.isoformat() if screen.language == "en" else screen.day(day)


def _numbers(band: "SignedBand", words: "Words", screen: "ScreenWords") -> tuple[str, str]:
    middle, low, high = band.factor_mg_dl_per_g, band.p05_factor_mg_dl_per_g, band.p95_factor_mg_dl_per_g
    if middle is None or low is None or high is None:
        return "-", "-"
    told = words.factor(middle, low, high)
    return told[0], screen.say("sign.range", low=told[1], high=told[2])


def _list(house: Household, person: "Person", as_json: bool) -> None:
    from gramrise.cli import tables
    from gramrise.nightly import references_with_ends
    from gramrise.report import screen_words

    found = references_with_ends(house.store, person, house.now_utc())
    if as_json:
        from gramrise.cli.reference_documents import references_document

        print(references_document(found))
        return
    words = screen_words(person.language)
    tables.show(
        words.say("sign.list", person=person.person_id),
        [
            (words.say("sign.number"), "right"),
            (words.say("sign.number_of"), "left"),
            (words.say("sign.by"), "left"),
            (words.say("sign.said"), "left"),
            (words.say("sign.holds"), "left"),
        ],
        [
            (
                str(one.number),
                _told_day(one.as_of, words),
                one.signed_by + (f", {one.role}" if one.role else ""),
                words.say("sign.accepted" if one.accepted else "sign.seen"),
                _holds(one, ended, words),
            )
            for one, ended in found
        ],
        empty=words.say("sign.none", person=person.person_id),
    )
    if found:
        tables.say(words.say("sign.no_authentication"))


def _holds(reference: "SignedReference", ended: "tuple[EndedBy, ...]", words: "ScreenWords") -> str:
    if ended:
        return words.say("sign.no", why="; ".join(words.say(f"sign.ended.{code}") for code in ended))
    return words.say("sign.until", day=_told_day(reference.valid_until, words))


def _withdraw(house: Household, person: "Person", number: int) -> None:
    from gramrise.cli import tables
    from gramrise.report import screen_words

    today = house.now_utc().astimezone(person.zone_now()).date()
    house.store.withdraw_reference(person.person_id, number, today)
    words = screen_words(person.language)
    tables.say(words.say("sign.withdrawn", person=person.person_id, number=number))


def _day(text: str | None, person: "Person") -> date | None:
    from gramrise.intake import local_date

    return None if text is None else local_date(text, person.language)
