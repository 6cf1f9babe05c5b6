"""gramrise count | counts | stock: what is gone from a tin, where it may have been taken, what is on hand."""

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import WrongUse
from gramrise.intake import instant_meant

if TYPE_CHECKING:
    from gramrise.domain.counts import ContainerCount
    from gramrise.domain.person import Person

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
    from gramrise.cli.count_sentences import counted_words
    from gramrise.domain.counts import ContainerCount
    from gramrise.report import screen_words

    house: Household = context.obj
    who, now = house.person(person), house.now_utc()
    to_utc = instant_meant(until, who.zone, now)
    before = [
        each
        for each in house.store.supplies.counts(who.person_id)
        if each.container == container and each.to_utc < to_utc
    ]
    last = before[-1] if before else None
    if filled is None and last is None:
        raise WrongUse(f"'{container}' was never counted", "say how many pieces were put in: --filled 20")
    made = ContainerCount(
        person_id=who.person_id,
        container=container,
        source=_source(who, source, last),
        from_utc=_begin(who, since, last, to_utc, now),
        to_utc=to_utc,
        pieces_filled=filled if filled is not None else last.pieces_left if last is not None else 0,
        pieces_left=left,
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
    from gramrise.cli.count_sentences import count_row, laid_words
    from gramrise.nightly import placed_counts
    from gramrise.place import CONTRADICTS, count_key
    from gramrise.report import screen_words

    house: Household = context.obj
    who = house.person(person)
    placed = placed_counts(house.store, who.person_id, house.now_utc(), house.home)
    if as_json:
        from gramrise.cli.count_documents import counts_document

        print(counts_document(placed).model_dump_json(indent=1))
        return
    known = house.store.questions(who.person_id, only_open=False)
    words = screen_words(who.language)
    settled = {each.question.key for each in known if each.question.kind == CONTRADICTS and each.answer}
    if not placed:
        tables.say(words.say("tin.none"))
    for each in placed:
        made = each.count
        tables.say(count_row(each, who, words))
        if each.contradicts_log and count_key(made) in settled:
            tables.say_line(words.say("tin.settled"))
        elif each.contradicts_log:
            tables.warn(words.say("tin.contradicts"))
        for way in each.laid.layings if each.laid is not None else ():
            tables.say_line("  " + laid_words(each, way, who, words))
    if any(each.laid for each in placed):
        tables.say(words.say("tin.what"))


def stock(
    context: typer.Context,
    source: Annotated[str | None, typer.Argument(help="Count this source anew, with --on-hand.")] = None,
    person: PersonOption = None,
    on_hand: Annotated[float | None, typer.Option(help="Pieces, or mL, that are there.")] = None,
    at: Annotated[str | None, typer.Option(help="When it was counted; else now.")] = None,
) -> None:
    """All that is on hand of each source, tins and bags included; how fast it goes; the day to mix or buy.

    What is left in one tin is a count: gramrise count. Nothing is ordered.
    """
    from gramrise.cli import tables
    from gramrise.cli.stock_sentences import stock_sentence, weak_sentence
    from gramrise.domain.counts import StockCount
    from gramrise.nightly import stock_lines, weak_sources
    from gramrise.report import screen_words, words_for
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
        counted = StockCount(source, instant_meant(at, who.zone, house.now_utc()), on_hand)
        house.store.supplies.keep_stock_count(who.person_id, counted, house.now_utc())
    words = screen_words(who.language)
    lines = stock_lines(house.store, who.person_id, house.now_utc(), house.home)
    if not lines:
        tables.say(f"No sources yet: gramrise person source {who.person_id} NAME ...")
    for line in lines:
        tables.say(stock_sentence(line, words))
    if lines:
        tables.say(words.say("stock.all_there_is"))
    for weak in weak_sources(house.store, who.person_id, house.now_utc(), house.home):
        tables.warn(weak_sentence(weak, words_for(who.language, who.unit, "UTC")))
    grams = unnamed_grams(house.store.inputs(who.person_id).doses, house.now_utc(), supplies_settings(house.home))
    if lines and grams:
        tables.warn(words.say("stock.unnamed", grams=words.number(grams)))


def _source(who: "Person", named: str | None, last: "ContainerCount | None") -> str:
    """The source named, else that of the last count, else the only one in pieces. Raises WrongUse."""
    from gramrise.domain.sources import AmountUnit

    pieces = [each.name for each in who.sources_now() if each.unit is AmountUnit.PIECE]
    chosen = named or (last.source if last is not None else pieces[0] if len(pieces) == 1 else None)
    if chosen in pieces:
        return str(chosen)
    known = ", ".join(pieces) or "none is stated yet: gramrise person source"
    raise WrongUse(
        "which pieces are in it?" if chosen is None else f"'{chosen}' does not come in pieces",
        f"--source, one of: {known}",
    )


def _begin(
    who: "Person", since: str | None, last: "ContainerCount | None", to_utc: datetime, now_utc: datetime
) -> datetime:
    """When the interval begins: as typed, else at the last count, else at the midnight before."""
    from datetime import UTC, time

    from gramrise.intake import zone_on

    if since is not None:
        return instant_meant(since, who.zone, now_utc)
    if last is not None:
        return last.to_utc
    zone = zone_on(who.zone, to_utc)
    return datetime.combine(to_utc.astimezone(zone).date(), time(), zone).astimezone(UTC)
