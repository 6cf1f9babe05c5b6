"""gramrise card: the glucose card, those that are out, and those that were thrown away."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from gramrise.cli.commands.findings import JsonOption, PersonOption
from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse

if TYPE_CHECKING:
    from gramrise.domain.person import Person


def register(app: typer.Typer) -> None:
    app.command()(card)


def card(
    context: typer.Context,
    person: PersonOption = None,
    source: Annotated[
        str | None, typer.Option(help="For which source; may be left out when there is only one.")
    ] = None,
    audience: Annotated[str, typer.Option("--for", help="home or school: complete, sealed sources only.")] = "home",
    size: Annotated[str, typer.Option(help="wallet or fridge; the school's is a whole sheet.")] = "fridge",
    out: Annotated[Path | None, typer.Option("--out", help="Folder to write to; else `reports` in the home.")] = None,
    look: Annotated[bool, typer.Option("--look", help="Only show it here; no number is used up.")] = False,
    listing: Annotated[bool, typer.Option("--list", help="Every card that is out, and whether it holds.")] = False,
    gone: Annotated[int | None, typer.Option("--gone", metavar="NUMBER", help="This card was thrown away.")] = None,
    hangs: Annotated[
        int | None, typer.Option("--hangs", metavar="NUMBER", help="That this card was thrown away was a slip.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Write the glucose card: the FIRST amount only, for one source, numbered and dated."""
    from gramrise.cli import tables
    from gramrise.nightly import make_card
    from gramrise.report import card_text, screen_words, withheld_sentences

    house: Household = context.obj
    who = house.person(person)
    if listing:
        _list(house, who)
        return
    if gone is not None:
        _throw_away(house, who, gone)
        return
    if hangs is not None:
        house.store.hang_card_again(who.person_id, hangs)
        tables.say(screen_words(who.language).say("card.hangs", number=hangs, person=who.person_id))
        return
    paper, school = _paper(size), _is_school(audience)
    house.note_look("card", who)
    view = make_card(house.store, who.person_id, source, house.now_utc(), house.home, for_school=school, keep=False)
    if as_json:
        print(view.model_dump_json(indent=1, by_alias=True))
        return
    if view.withheld:
        for sentence in withheld_sentences(view):
            tables.warn(sentence)
        raise typer.Exit(1)
    print(card_text(view))
    if look:
        return
    stem = _write(house, who, view.source.name, paper, school, out)
    tables.say(screen_words(who.language).say("card.wrote", file=str(stem.with_suffix(".pdf"))))


def _write(
    house: Household,
    who: "Person",
    source: str,
    paper: Literal["wallet", "fridge"],
    school: bool,
    out: Path | None,
) -> Path:
    """Prints the card, then keeps it: one that cannot be printed must use up no number."""
    from gramrise.cli.cards_ended import telling_ended_cards
    from gramrise.config.private_files import private_folder, write_whole
    from gramrise.nightly import make_card
    from gramrise.report import card_pdf, card_png

    now = house.now_utc()
    view = make_card(house.store, who.person_id, source, now, house.home, for_school=school, keep=False)
    pdf, png = card_pdf(view, paper), card_png(view, paper)
    with telling_ended_cards(house, who.person_id):
        make_card(house.store, who.person_id, source, now, house.home, for_school=school)
    folder = out or house.home / "reports"
    private_folder(folder)
    stem = folder / f"{who.person_id}-card-{view.number}-{'school' if school else paper}"
    write_whole(stem.with_suffix(".pdf"), pdf)
    write_whole(stem.with_suffix(".png"), png)
    return stem


def _list(house: Household, who: "Person") -> None:
    from gramrise.cli import tables
    from gramrise.cli.cards_ended import card_told
    from gramrise.nightly import cards_out
    from gramrise.report import screen_words

    words = screen_words(who.language)
    out = [(card, *card_told(card, who, words)) for card in cards_out(house.store, who, house.now_utc())]
    tables.show(
        words.say("card.title", person=who.person_id),
        [
            (words.say("card.number"), "right"),
            (words.say("card.what"), "left"),
            (words.say("card.made"), "time"),
            (words.say("card.until"), "time"),
            (words.say("card.holds"), "left"),
        ],
        [
            (
                str(card.number),
                of,
                words.day(card.made_on),
                words.day(card.valid_until),
                words.say("card.yes") if card.holds else words.say("card.no", why=why),
            )
            for card, of, why in out
        ],
        empty=words.say("card.none"),
    )
    if any(not card.holds for card, *_ in out):
        tables.warn(words.say("card.throw"))
        raise typer.Exit(1)


def _throw_away(house: Household, who: "Person", number: int) -> None:
    from gramrise.cli import tables
    from gramrise.report import screen_words

    today = house.now_utc().astimezone(who.zone_now()).date()
    house.store.throw_away_card(who.person_id, number, today)
    tables.say(screen_words(who.language).say("card.thrown", number=number, person=who.person_id))


def _is_school(audience: str) -> bool:
    if audience not in {"home", "school"}:
        raise WrongUse(f"'{audience}' cannot be meant here", "home or school")
    return audience == "school"


def _paper(size: str) -> Literal["wallet", "fridge"]:
    if size == "wallet":
        return "wallet"
    if size == "fridge":
        return "fridge"
    raise WrongUse(f"'{size}' is no size of a card", "wallet or fridge")
