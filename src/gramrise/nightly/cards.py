"""Making a numbered card, and whether the latest one still holds."""

from datetime import datetime
from pathlib import Path

from gramrise.config.settings import load
from gramrise.domain.person import Person
from gramrise.domain.problems import WrongUse
from gramrise.domain.sources import Source
from gramrise.estimate import estimate_settings
from gramrise.nightly.current import current_findings
from gramrise.report import CardSettings, CardState, CardView, card_view, void_reasons
from gramrise.store import Card, Store


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
    raises       WrongUse when the source is not known or must be named
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
        settings=load("card", CardSettings, home),
        estimate_settings=estimate_settings(home),
    )
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


def card_states(store: Store, person: Person, now_utc: datetime) -> list[CardState]:
    """Every card that was made, by number, with every reason why it no longer holds."""
    views = [CardView.model_validate_json(card.view) for card in store.cards_of(person.person_id)]
    return [
        CardState(
            number=view.number,
            source=view.source.name,
            for_school=view.for_school,
            made_on=view.made_on,
            valid_until=view.valid_until,
            void_because=tuple(reason.code for reason in void_reasons(view, person, now_utc)),
        )
        for view in views
    ]
