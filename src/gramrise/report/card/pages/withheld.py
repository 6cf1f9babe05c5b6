"""Why there is no card, in whole sentences that say how to mend it."""

from gramrise.report.card.numbers.view import CardView
from gramrise.report.card.pages.face import withheld
from gramrise.report.words import words_for


def withheld_sentences(view: CardView) -> tuple[str, ...]:
    """One sentence a reason, after one that says that there is no card; empty where there is a card."""
    if not view.withheld:
        return ()
    words = words_for(view.language, view.unit, "UTC")
    return (words.say("on_card.no_card"), *(withheld(code, view, words) for code in view.withheld))
