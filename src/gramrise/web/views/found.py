"""Lows, cards and stock as sentences."""

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from gramrise.domain.problems import GramriseError
from gramrise.domain.sources import AmountUnit
from gramrise.nightly import cards_out, cards_turned, current_findings, make_card, stock_lines, weak_sources, which_hold
from gramrise.report import CardFace, face_of, outcome_words, stock_sentence, weak_sentence, withheld_sentences
from gramrise.supplies import StockState

if TYPE_CHECKING:
    from gramrise.report import CardState
    from gramrise.supplies import StockLine
    from gramrise.web.visit import Visit


@dataclass(frozen=True, slots=True)
class CardOut:
    """A card that was not thrown away, in words."""

    number: int
    words: str


@dataclass(frozen=True, slots=True)
class CardNow:
    """What a card for a source would say today, or why it is withheld."""

    source: str
    face: CardFace | None
    withheld: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OnHand:
    """A source with its stock in a sentence. `unit`: of a count, piece | ml."""

    source: str
    words: str
    unit: str


def lows(visit: "Visit") -> tuple[str, ...]:
    """The lows of the last days of data that are listed, latest first: those that `lows --days` names."""
    found = current_findings(visit.store, visit.person.person_id, visit.now_utc, visit.page.home, only=("lows",)).lows
    last = visit.store.last_data_at(visit.person.person_id)
    if last is None:
        return ()
    since = last - timedelta(days=visit.page.settings.lows_days)
    lately = found.filter(pl.col("start_utc") > since).sort("start_utc", descending=True)
    return tuple(_low(visit, row) for row in lately.iter_rows(named=True))


def _low(visit: "Visit", row: dict[str, Any]) -> str:
    words, end = visit.words, row["end_utc"]
    what = outcome_words(row["outcome"], row["probability_treated"], visit.screens)
    if row["grams"]:
        what += ", " + visit.say("low.given", grams=words.grams(row["grams"]))
    told = {
        "at": words.when(row["start_utc"]),
        "lowest": words.level(row["nadir_mg_dl"]),
        "unit": str(visit.person.unit),
        "what": what,
    }
    if end is None:
        return visit.say("low.open", **told)
    return visit.say("low.line", minutes=round((end - row["start_utc"]).total_seconds() / 60), **told)


def cards(visit: "Visit") -> tuple[CardOut, ...]:
    """Every card that is out, and whether it holds."""
    out = cards_out(visit.store, visit.person, visit.now_utc)
    return tuple(CardOut(card.number, _card_words(visit, card)) for card in out)


def _card_words(visit: "Visit", card: "CardState") -> str:
    words = visit.words
    named: dict[str, str | int] = {"number": card.number, "source": card.source}
    if card.holds:
        code = "school" if card.for_school else "holds"
        return visit.say(f"card_out.{code}", until=words.day(card.valid_until), **named)
    why = "; ".join(words.say(f"card_line.because.{code}") for code in card.void_because)
    return visit.say("card_out.void", why=why, **named)


def holding(visit: "Visit") -> dict[int, bool]:
    """Whether each card that is out holds, by its number; asked before a change, for `turned`."""
    return which_hold(visit.store, visit.person.person_id, visit.now_utc)


def turned(visit: "Visit", before: dict[int, bool]) -> str:
    """The cards that a change ended, and those that hold again; empty for none. before: `holding` then."""
    changed = cards_turned(visit.store, visit.person.person_id, before, visit.now_utc)
    named = ((card, visit.words.day(card.valid_until)) for card in changed)
    return " ".join(
        visit.say("card_out.again", number=card.number, source=card.source, until=until)
        if card.holds
        else _card_words(visit, card)
        for card, until in named
    )


def cards_now(visit: "Visit") -> tuple[CardNow, ...]:
    """What a card of each source would say today; no number is used up."""
    return tuple(_card_now(visit, source.name) for source in visit.person.sources_now())


def _card_now(visit: "Visit", source: str) -> CardNow:
    try:
        view = make_card(
            visit.store, visit.person.person_id, source, visit.now_utc, visit.page.home, keep=False
        )  # fmt: skip
    except GramriseError as trouble:
        return CardNow(source, None, (visit.spoken(str(trouble)),))
    if view.withheld:
        return CardNow(source, None, tuple(withheld_sentences(view)))
    return CardNow(source, face_of(view), ())


def stock(visit: "Visit") -> tuple[OnHand, ...]:
    """What is on hand of each source."""
    lines = stock_lines(visit.store, visit.person.person_id, visit.now_utc, visit.page.home)
    units = {source.name: source.unit for source in visit.person.sources_now()}
    return tuple(
        OnHand(line.source, _stock_words(visit, line), "piece" if units[line.source] is AmountUnit.PIECE else "ml")
        for line in lines
        if line.source in units
    )


def _stock_words(visit: "Visit", line: "StockLine") -> str:
    """As the terminal says it; where that names a command, what to do here."""
    screens = visit.screens
    code = {StockState.NOT_COUNTED: "not_mixed" if line.home_mixed else "not_counted"}.get(line.state)
    if line.state is StockState.COUNT_AGAIN or (code is None and line.on_hand is None):
        code = "count_again"
    if code is None:
        return stock_sentence(line, screens)
    unit = screens.say(f"stock.{line.unit}")
    use = "" if line.per_day is None else screens.say("stock.use", amount=f"{screens.number(line.per_day, 1)} {unit}")
    told = {"source": line.source} if code == "count_again" else {"source": line.source, "use": use}
    return visit.say(f"onhand.{code}", **told)


def weak(visit: "Visit") -> tuple[str, ...]:
    """Glucose that works clearly less than the person's other glucose."""
    found = weak_sources(visit.store, visit.person.person_id, visit.now_utc, visit.page.home)
    return tuple(weak_sentence(each, visit.words) for each in found)
