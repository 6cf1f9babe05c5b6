"""The line of today: when the last reading came in, what waits, which card holds. No level: this is no monitor."""

from datetime import timedelta
from typing import TYPE_CHECKING

from gramrise.nightly import cards_out, files_held, nightly_settings

if TYPE_CHECKING:
    from gramrise.web.visit import Visit


def today(visit: "Visit") -> tuple[str, ...]:
    """The parts of the line, each a few words; those about what waits are left out where nothing does."""
    person_id = visit.person.person_id
    asked = len(visit.store.questions(person_id))
    held = files_held(visit.page.home, person_id)
    parts = [_last_reading(visit)]
    if asked:
        parts.append(visit.say("state.questions", count=asked))
    if held:
        parts.append(visit.say("state.held", count=held))
    unread = _unread(visit)
    if unread:
        parts.append(visit.say("state.set_aside", count=unread))
    return (*parts, _card(visit))


def _unread(visit: "Visit") -> int:
    """How many lines of files taken in lately count nowhere: for as many days as `check` names them."""
    lately = timedelta(days=nightly_settings(visit.page.home).set_aside_named_days)
    return sum(lines for _, lines in visit.store.lines_set_aside(visit.person.person_id, visit.now_utc - lately))


def _last_reading(visit: "Visit") -> str:
    last = visit.store.last_reading_at(visit.person.person_id)
    if last is None:
        return visit.say("state.no_reading")
    words, day = visit.words, visit.words.local_date(last)
    same_day = day == words.local_date(visit.now_utc)
    return visit.say("state.reading", at=words.clock(last) if same_day else words.when(last))


def _card(visit: "Visit") -> str:
    """The card of the home that holds longest; a school's card is not for this hand."""
    holding = [card for card in cards_out(visit.store, visit.person, visit.now_utc) if card.holds]
    here = [card for card in holding if not card.for_school]
    if not here:
        return visit.say("state.no_card")
    chosen = max(here, key=lambda card: (card.valid_until, card.number))
    until = visit.words.day(chosen.valid_until)
    return visit.say("state.card", number=chosen.number, source=chosen.source, until=until)
