"""The state of every card that is out, in as few lines as name each one."""

from itertools import groupby

from gramrise.report.card_state import CardState
from gramrise.report.words import Words


def card_lines(cards: tuple[CardState, ...], words: Words) -> tuple[str, ...]:
    """Those that no longer hold first, one line for each why; then those that do; or that there is none."""
    if not cards:
        return (words.say("card_line.none"),)
    void = sorted((card for card in cards if not card.holds), key=lambda card: card.void_because)
    lines = [_void(tuple(alike), words) for _, alike in groupby(void, key=lambda card: card.void_because)]
    return (*lines, *(_holds(card, words) for card in cards if card.holds))


def _void(cards: tuple[CardState, ...], words: Words) -> str:
    why = ", ".join(words.say(f"card_line.because.{code}") for code in cards[0].void_because)
    return words.say("card_line.void", count=len(cards), names=", ".join(_name(card, words) for card in cards), why=why)


def _holds(card: CardState, words: Words) -> str:
    return words.say("card_line.holds", name=_name(card, words), until=words.day(card.valid_until, "medium"))


def _name(card: CardState, words: Words) -> str:
    """'4 (pocket tin, school)'."""
    told = [part for part in (card.source, words.say("card_line.school") if card.for_school else "") if part]
    return f"{card.number} ({', '.join(told)})" if told else str(card.number)
