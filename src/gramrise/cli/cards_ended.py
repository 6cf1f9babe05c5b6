"""Cards that a change ends, named where it is made: a card on a door is read at night by somebody who was not there."""

from collections.abc import Iterator
from contextlib import contextmanager

from gramrise.cli.context import Household


@contextmanager
def telling_ended_cards(house: Household, person_id: str) -> Iterator[None]:
    """Within it a fact is changed; each card that held before and does not after is named, in the person's language."""
    held = _holding(house, person_id)
    yield
    if held:
        _tell(house, person_id, held)


def _holding(house: Household, person_id: str) -> set[int]:
    """Numbers of the cards that are out and hold; asked only where there is any, as it loads much."""
    if not house.store.cards_of(person_id):
        return set()
    from gramrise.nightly import cards_out

    return {
        card.number for card in cards_out(house.store, house.store.person(person_id), house.now_utc()) if card.holds
    }


def _tell(house: Household, person_id: str, held: set[int]) -> None:
    from gramrise.cli import tables
    from gramrise.nightly import cards_out
    from gramrise.report import screen_words, words_for

    who = house.store.person(person_id)
    words, because = screen_words(who.language), words_for(who.language, who.unit, "UTC")
    for card in cards_out(house.store, who, house.now_utc()):
        if card.number in held and not card.holds:
            why = "; ".join(because.say(f"card_line.because.{code}") for code in card.void_because)
            of = card.source + (words.say("card.for_school") if card.for_school else "")
            tables.warn(words.say("card.ended", number=card.number, source=of, why=why))
