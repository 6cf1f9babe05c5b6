"""Readings, strengths and amounts of the card in words."""

from math import floor
from typing import Final

from babel.numbers import format_decimal

from gramrise.domain.units import GlucoseUnit
from gramrise.report.card.numbers.view import AmountView, CardView
from gramrise.report.words import Words

# Our choice: pieces that hold the plan's grams to within 3 % hold them.
NOTICED: Final = 0.03
# Our choice: pieces that hold over half as much again are no way to give what the plan orders.
MOST_HELD: Final = 1.5
# Whole pieces times a strength of two decimals miss the grams that they hold by the error of the floats.
_SAME_G: Final = 1e-9


def reading(value: float, view: CardView, words: Words) -> str:
    """A reading that is already in the person's unit, written as the reader shows it."""
    return words.number(value, 0 if view.unit == GlucoseUnit.MG_DL else 1)


def exactly(grams: float, words: Words) -> str:
    """Grams with up to two decimals: the strength of a piece is told as it is, not rounded to what doubt bears."""
    return str(format_decimal(grams, "#,##0.##", locale=words.locale))


def amount(units: int, view: CardView, words: Words) -> str:
    """'4 pieces' or '15 mL'."""
    return words.say("on_card.piece" if view.source.unit == "piece" else "on_card.ml", count=units)


def told(plan_amount: AmountView, view: CardView, words: Words) -> tuple[str, str]:
    """An amount of the plan in pieces or mL and in grams; where no whole number comes close, grams and ''.

    Where the pieces hold other grams than the plan orders, both are told.
    """
    ordered = exactly(plan_amount.grams, words)
    grams = words.say("on_card.grams", grams=ordered)
    if plan_amount.units is None or view.source.glucose_per_unit_g is None:
        return grams, ""
    held = plan_amount.units * view.source.glucose_per_unit_g
    if abs(held / plan_amount.grams - 1) > NOTICED:
        grams = words.say("on_card.grams_held", held=words.grams(held), grams=ordered)
    return amount(plan_amount.units, view, words), grams


def pieces_near(plan_amount: AmountView, view: CardView, words: Words, *, at_least: bool = False) -> str:
    """'3 pieces: 10.9 g' beside 9 g of the plan, where no whole number of pieces comes close.

    One number, as nobody should have to choose at 3 a.m.: the nearest, of two just as near the larger; with `at_least`
    the first that holds what the plan orders. Where limits leave none, it says to take another source. '' for mL and an
    unknown strength.
    """
    strength = view.source.glucose_per_unit_g
    if plan_amount.units is not None or strength is None or view.source.unit != "piece":
        return ""
    ordered = plan_amount.grams
    least, most = ordered if at_least else _least_held(ordered, view), _most_held(ordered, view)
    fewer = floor(ordered / strength + _SAME_G)
    near = [n for n in (fewer, fewer + 1) if n and least - _SAME_G <= n * strength <= most + _SAME_G]
    if not near:
        return words.say("on_card.no_whole_piece", grams=words.grams(strength))
    chosen = min(near, key=lambda n: (round(abs(n * strength - ordered), 6), -n))
    pieces, held = amount(chosen, view, words), words.grams(chosen * strength)
    return words.say("on_card.pieces_hold", pieces=pieces, grams=held)


def _least_held(ordered_g: float, view: CardView) -> float:
    """The least grams that pieces offered for an amount of the plan may hold: as far below as `_most_held` is above."""
    return max(ordered_g / MOST_HELD, min(view.plan.least_grams or 0.0, ordered_g))


def _most_held(ordered_g: float, view: CardView) -> float:
    """The most grams that pieces offered for an amount of the plan may hold.

    A plan that orders more than the caps for everybody has decided so itself; else pieces stay under them, too.
    """
    plan, most = view.plan, MOST_HELD * ordered_g
    if view.cap is not None and ordered_g <= view.cap.grams + _SAME_G:
        most = min(most, view.cap.grams)
    if plan.most_grams is None:
        return most
    below = plan.below_54.grams if plan.below_54 is not None else 0.0
    return min(most, max(plan.most_grams, below, ordered_g))


def in_one(plan_amount: AmountView, view: CardView, words: Words) -> str:
    """'10 g (11 pieces)', '9 g (3 pieces: 10.9 g)', or '10 g'."""
    counted, grams = told(plan_amount, view, words)
    if grams:
        return words.say("on_card.in_one", grams=grams, amount=counted)
    near = pieces_near(plan_amount, view, words)
    return words.say("on_card.in_one", grams=counted, amount=near) if near else counted
