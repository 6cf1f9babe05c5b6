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
    return tuple(_state(card, person, now_utc, withdrawn) for card in cards)


def _rests_on_withdrawn(card: Card, view: CardView, withdrawn: list[tuple[datetime, datetime]]) -> bool:
    """Whether a card has measured amounts, and something that was known when it was made was taken back since.

    withdrawn  when each file, amount or answer had been told that was taken back, and when it was
    """
    return view.has_own_amounts and any(told <= card.made_at_utc < back for told, back in withdrawn)


def _state(card: Card, person: Person, now_utc: datetime, withdrawn: list[tuple[datetime, datetime]]) -> CardState:
    try:
        view = CardView.model_validate_json(card.view)
        void = tuple(reason.code for reason in void_reasons(view, person, now_utc))
        void += ("evidence",) if _rests_on_withdrawn(card, view, withdrawn) else ()
    except ValidationError:  # made before the card's view had its present parts: it cannot be watched
        void = ("old_form",)
    return CardState(
        number=card.number,
        made_on=card.made_at_utc.astimezone(person.zone_now()).date(),
        valid_until=card.valid_until,
        source=card.source,
        for_school=card.for_school,
        void_because=void,
    )
