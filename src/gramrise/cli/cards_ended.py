"""Cards that a change ends, named where it is made: a card on a door is read at night by somebody who was not there."""

from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

from gramrise.cli.context import Household

if TYPE_CHECKING:
    from gramrise.domain.person import Person
    from gramrise.report import CardState, ScreenWords


@contextmanager
def telling_ended_cards(house: Household, person_id: str) -> Iterator[None]:
    """Within it a fact is changed; each card that held before and does not after is named, in the person's language."""
    held = _holding(house, person_id)
    yield
    if held:
        _tell(house, person_id, held)


@contextmanager
def telling_ended_cards_of_all(house: Household, person_ids: Iterable[str]) -> Iterator[None]:
    """The same where it is not known before whom the change is about."""
    with ExitStack() as each_told:
        for person_id in person_ids:
            each_told.enter_context(telling_ended_cards(house, person_id))
        yield


def card_told(card: "CardState", who: "Person", words: "ScreenWords") -> tuple[str, str]:
    """What a card is for, and why it does not hold, in the person's words."""
    from gramrise.report import words_for

    because = words_for(who.language, who.unit, "UTC")
    why = "; ".join(because.say(f"card_line.because.{code}") for code in card.void_because)
    return card.source + (words.say("card.for_school") if card.for_school else ""), why


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
    from gramrise.report import screen_words

    who = house.store.person(person_id)
    words = screen_words(who.language)
    for card in cards_out(house.store, who, house.now_utc()):
        if card.number in held and not card.holds:
            of, why = card_told(card, who, words)
            tables.warn(words.say("card.ended", number=card.number, source=of, why=why))
