"""The state of every card that is out, in as few lines as name each one."""

from itertools import groupby

from gramrise.report.weekly.numbers.card_state import CardState
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
    alike = groupby(sorted(cards, key=_of), key=_of)
    names = ", ".join(_name(", ".join(str(card.number) for card in same), of, words) for of, same in alike)
    return words.say("card_line.void", count=len(cards), names=names, why=why)


def _holds(card: CardState, words: Words) -> str:
    name = _name(str(card.number), _of(card), words)
    return words.say("card_line.holds", name=name, until=words.day(card.valid_until, "medium"))


def _of(card: CardState) -> tuple[str, bool]:
    return card.source, card.for_school


def _name(numbers: str, of: tuple[str, bool], words: Words) -> str:
    """'4, 6 (pocket tin, school)'."""
    source, for_school = of
    told = [part for part in (source, words.say("card_line.school") if for_school else "") if part]
    return f"{numbers} ({', '.join(told)})" if told else numbers
