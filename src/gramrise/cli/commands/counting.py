"""gramrise count | counts | stock: what is gone from a tin, where it may have been taken, what is on hand."""

from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse
from gramrise.intake import instant_meant

if TYPE_CHECKING:
    pass

PersonOption = Annotated[str | None, typer.Option("--person", help="Whose; may be left out when there is only one.")]


def register(app: typer.Typer) -> None:
    app.command()(count)
    app.command()(counts)
    app.command()(stock)


def count(
    context: typer.Context,
    container: Annotated[str, typer.Argument(help="What you call it: 'school tin', 'sports bag'.")],
    left: Annotated[int, typer.Option(help="Pieces that are in it now.")],
    filled: Annotated[int | None, typer.Option(help="Pieces that were put in; else those left last time.")] = None,
    person: PersonOption = None,
    source: Annotated[str | None, typer.Option(help="What the pieces are; else as last time, or the only one.")] = None,
    since: Annotated[
        str | None, typer.Option("--from", help="When it was filled; else when it was last counted, or midnight.")
    ] = None,
    until: Annotated[str | None, typer.Option("--to", help="When it was counted; else now.")] = None,
) -> None:
    """Log a count of one tin or bag: pieces put in, pieces left. All that is on hand at home: gramrise stock."""
    from gramrise.cli import tables
    from gramrise.nightly import count_of
    from gramrise.report import counted_words, screen_words

    house: Household = context.obj
    who, now = house.person(person), house.now_utc()
    made = count_of(
        house.store,
        who,
        container,
        left,
        instant_meant(until, who.zone, now),
        pieces_filled=filled,
        source=source,
        from_utc=None if since is None else instant_meant(since, who.zone, now),
    )
    changed = house.store.supplies.keep_count(made, "typed", now)
    words = screen_words(who.language)
    tables.say(counted_words(made, who, words))
    if not changed:
        tables.warn(words.say("tin.known"))
        return
    tables.say(words.say("tin.next"))


def counts(
    context: typer.Context,
    person: PersonOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document, see `gramrise schema`.")] = False,
) -> None:
    """What is gone from tins against what is logged, and where the rest may have been taken."""
    from gramrise.cli import tables
    from gramrise.nightly import placed_counts
    from gramrise.place import CONTRADICTS, GONE, count_key
    from gramrise.report import count_row, laid_words, offered_words, screen_words

    house: Household = context.obj
    who = house.person(person)
    house.note_look("counts", who)
    placed = placed_counts(house.store, who.person_id, house.now_utc(), house.home)
    if as_json:
        from gramrise.cli.count_documents import counts_document

        print(counts_document(placed).model_dump_json(indent=1))
        return
    known = house.store.questions(who.person_id, only_open=False)
    words = screen_words(who.language)
    settled = {each.question.key for each in known if each.question.kind == CONTRADICTS and each.answer}
    answered = {each.question.key: each for each in known if each.question.kind == GONE and each.answer}
    if not placed:
        tables.say(words.say("tin.none"))
    for each in placed:
        made = each.count
        tables.say(count_row(each, who, words))
        if each.contradicts_log and count_key(made) in settled:
            tables.say_line(words.say("tin.settled"))
        elif each.contradicts_log:
            tables.warn(words.say("tin.contradicts"))
        told = answered.get(count_key(made))
        if told is not None:
            answer = offered_words(str(told.answer), told.question, who, words)
            tables.say_line(words.say("tin.answered", answer=answer))
            continue
        for way in each.laid.layings if each.laid is not None else ():
            tables.say_line("  " + laid_words(each, way, who, words))
    if any(each.laid and count_key(each.count) not in answered for each in placed):
        tables.say(words.say("tin.what"))


def stock(
    context: typer.Context,
    source: Annotated[str | None, typer.Argument(help="Count this source anew, with --on-hand.")] = None,
    person: PersonOption = None,
    on_hand: Annotated[float | None, typer.Option(help="Pieces, or mL, that are there.")] = None,
    at: Annotated[str | None, typer.Option(help="When it was counted; else now.")] = None,
    meant: Annotated[bool, typer.Option("--meant", help="Many times as much as was there is meant.")] = False,
) -> None:
    """All that is on hand of each source, tins and bags included; how fast it goes; the day to mix or buy.

    What is left in one tin is a count: gramrise count. Nothing is ordered.
    """
    from gramrise.cli import tables
    from gramrise.domain.counts import StockCount, refuse_stock_slip
    from gramrise.nightly import stock_lines, weak_sources
    from gramrise.report import screen_words, stock_sentence, weak_sentence, words_for
    from gramrise.supplies import supplies_settings, unnamed_grams

    house: Household = context.obj
    who = house.person(person)
    if source is not None or on_hand is not None:
        known = [each.name for each in who.sources_now()]
        if source not in known:
            raise WrongUse(
                f"'{source or ''}' is no source of {who.person_id}", f"one of: {', '.join(known) or 'none yet'}"
            )
        if on_hand is None:
            raise WrongUse(f"how much of {source} is there?", "--on-hand 45")
        if not meant:
            lines = stock_lines(house.store, who.person_id, house.now_utc(), house.home)
            refuse_stock_slip(on_hand, next((line.on_hand for line in lines if line.source == source), None))
        counted = StockCount(source, instant_meant(at, who.zone, house.now_utc()), on_hand)
        house.store.supplies.keep_stock_count(who.person_id, counted, house.now_utc())
    words = screen_words(who.language)
    house.note_look("stock", who)
    lines = stock_lines(house.store, who.person_id, house.now_utc(), house.home)
    if not lines:
        house.say(f"No sources yet: gramrise person source {who.person_id} NAME ...")
    for line in lines:
        tables.say(stock_sentence(line, words))
    if lines:
        tables.say(words.say("stock.all_there_is"))
    for weak in weak_sources(house.store, who.person_id, house.now_utc(), house.home):
        tables.warn(weak_sentence(weak, words_for(who.language, who.unit, "UTC")))
    grams = unnamed_grams(house.store.inputs(who.person_id).doses, house.now_utc(), supplies_settings(house.home))
    if lines and grams:
        tables.warn(words.say("stock.unnamed", grams=words.number(grams)))
