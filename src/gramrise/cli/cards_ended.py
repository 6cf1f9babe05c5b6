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
    """Within it a fact is changed; each card that held before and does not after, or holds again, is named."""
    if not house.store.cards_of(person_id):  # what knows whether cards hold loads much
        yield
        return
    from gramrise.nightly import which_hold

    before = which_hold(house.store, person_id, house.now_utc())
    yield
    _tell(house, person_id, before)


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


def _tell(house: Household, person_id: str, before: dict[int, bool]) -> None:
    from gramrise.cli import tables
    from gramrise.nightly import cards_turned
    from gramrise.report import screen_words

    turned = cards_turned(house.store, person_id, before, house.now_utc())
    who = house.store.person(person_id)
    words = screen_words(who.language)
    for card in turned:
        of, why = card_told(card, who, words)
        code = "card.again" if card.holds else "card.ended"
        tables.warn(words.say(code, number=card.number, source=of, why=why))
