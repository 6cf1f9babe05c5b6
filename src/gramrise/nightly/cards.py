"""Making a numbered card, and whether those that are out still hold."""

from datetime import datetime
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from gramrise.config.settings import load
from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Source
from gramrise.estimate import estimate_settings
from gramrise.nightly.current import current_findings
from gramrise.report import CardSettings, CardState, CardView, card_view, void_reasons
from gramrise.store import Card, Store

# What a factor is learned from.
OF_EVIDENCE: Final = frozenset({"given", "import", "answer"})
# Questions whose answer can change a card, by the reason for which they withhold it.
DOUBTS: Final = {
    "weight_doubted": frozenset({"weight_jump", "weight_for_age"}),
    "strength_doubted": frozenset({"pieces_or_grams"}),
}


def make_card(
    store: Store,
    person_id: str,
    source_name: str | None,
    now_utc: datetime,
    home: Path | None = None,
    *,
    for_school: bool = False,
    keep: bool = True,
) -> CardView:
    """A new card with the next number, kept so that the nightly check can say when it no longer holds.

    source_name  None: the only source there is
    keep         False: look only; the number is not used up
    raises       WrongUse when the source is not known or must be named, or a school card is not complete; when a card
                 that is withheld should be kept
    """
    found = current_findings(store, person_id, now_utc, home)
    inputs = store.inputs(person_id)
    source = chosen_source(inputs.person, source_name)
    number = 1 + max((card.number for card in store.cards_of(person_id)), default=0)
    view = card_view(
        inputs,
        found,
        source,
        now_utc=now_utc,
        number=number,
        for_school=for_school,
        in_doubt=_in_doubt(store, person_id),
        settings=load("card", CardSettings, home),
        estimate_settings=estimate_settings(home),
    )
    if keep and view.withheld:
        raise WrongUse("the card is withheld", "mend what withholds it: gramrise card --look")
    if keep:
        store.keep_card(
            Card(person_id, number, source.name, for_school, now_utc, view.valid_until, view.model_dump_json())
        )
    return view


def chosen_source(person: Person, name: str | None) -> Source:
    """The source named by its own or another of its names, or the only one. Raises WrongUse listing what is known."""
    sources = person.sources_now()
    known = ", ".join(source.name for source in sources)
    if name is None and len(sources) == 1:
        return sources[0]
    if not sources:
        raise WrongUse(
            f"no source of {person.person_id} is known yet, so no amount can be said",
            f"gramrise person source {person.person_id} {name or 'NAME'!r} --form tablet --grams-per-piece GRAMS",
        )
    wanted = (name or "").casefold()
    named = [s for s in sources if wanted in {s.name.casefold(), *(other.casefold() for other in s.other_names)}]
    if len(named) == 1:
        return named[0]
    raise WrongUse(
        f"no source is called '{name}'; known: {known}" if name else f"a card is for one source; known: {known}",
        "name one with --source",
    )


def _in_doubt(store: Store, person_id: str) -> tuple[str, ...]:
    """Facts a card hangs on that wait for an answer: keys `on_card.withheld.*`."""
    kinds = {asked.question.kind for asked in store.questions(person_id)}
    return tuple(code for code, doubts in DOUBTS.items() if kinds & doubts)


def cards_out(store: Store, person: Person, now_utc: datetime) -> tuple[CardState, ...]:
    """Every card that was not thrown away, oldest first, with each reason why it no longer holds."""
    cards = [card for card in store.cards_of(person.person_id) if card.gone_on is None]
    withdrawn = store.taken_back_spans(person.person_id, OF_EVIDENCE) if cards else []
    states: list[CardState] = []
    holding: list[CardView] = []  # newer ones
    for card in reversed(cards):
        view = _view(card)
        states.append(_state(card, view, person, now_utc, withdrawn, holding))
        if view is not None and states[-1].holds:
            holding.append(view)
    return tuple(reversed(states))


def which_hold(store: Store, person_id: str, now_utc: datetime) -> dict[int, bool]:
    """Whether each card that is out holds, by its number."""
    return {card.number: card.holds for card in cards_out(store, store.person(person_id), now_utc)}


def cards_turned(store: Store, person_id: str, before: dict[int, bool], now_utc: datetime) -> tuple[CardState, ...]:
    """After a change: the cards that held before and do not now, and those that hold again. before: `which_hold`."""
    return tuple(
        card
        for card in cards_out(store, store.person(person_id), now_utc)
        if before.get(card.number, card.holds) != card.holds
    )


def _rests_on_withdrawn(card: Card, view: CardView, withdrawn: list[tuple[datetime, datetime]]) -> bool:
    """Whether a card has measured amounts, and something that was known when it was made was taken back since.

    withdrawn  when each file, amount or answer had been told that was taken back, and when it was
    """
    return view.has_own_amounts and any(told <= card.made_at_utc < back for told, back in withdrawn)


def _view(card: Card) -> CardView | None:
    """What a card says; None for one made before the card's view had its present parts: it cannot be watched."""
    try:
        return CardView.model_validate_json(card.view)
    except ValidationError:
        return None


def _state(
    card: Card,
    view: CardView | None,
    person: Person,
    now_utc: datetime,
    withdrawn: list[tuple[datetime, datetime]],
    newer: list[CardView],
) -> CardState:
    if view is None:
        void: tuple[str, ...] = ("old_form",)
    else:
        void = tuple(reason.code for reason in void_reasons(view, person, now_utc))
        void += ("evidence",) if _rests_on_withdrawn(card, view, withdrawn) else ()
        void += ("replaced",) if any(_says_otherwise(each, view) for each in newer) else ()
    return CardState(
        number=card.number,
        made_on=card.made_at_utc.astimezone(person.zone_now()).date(),
        valid_until=card.valid_until,
        source=card.source,
        for_school=card.for_school,
        void_because=void,
    )


def _says_otherwise(newer: CardView, view: CardView) -> bool:
    """Whether a newer card for the same glucose and readers names another amount: two of them must not hang at once."""
    same = (newer.source.name, newer.school is None) == (view.source.name, view.school is None)
    return same and _amounts(newer) != _amounts(view)


def _amounts(view: CardView) -> tuple[object, ...]:
    """The amounts that a card tells, by row and band; pieces or mL where there are any, else grams."""
    school = view.school.amount.grams if view.school else None
    rows = tuple(
        (row.shown_from, row.shown_to, cell.band, cell.grams if cell.amount is None else cell.amount)
        for row in view.rows
        for cell in row.cells
    )
    return school, rows
