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


def pieces_near(plan_amount: AmountView, view: CardView, words: Words) -> str:
    """'2 pieces: 7.3 g; 3 pieces: 10.9 g' beside 9 g of the plan, where no whole number of pieces comes close.

    It says what can be counted out, and chooses nothing: the plan orders grams. More than the plan ever gives, or far
    more than it orders here, is not offered; where one piece is that already, it says so. '' for mL and an unknown
    strength.
    """
    strength = view.source.glucose_per_unit_g
    if plan_amount.units is not None or strength is None or view.source.unit != "piece":
        return ""
    fewer, most = floor(plan_amount.grams / strength + _SAME_G), _most_held(plan_amount, view)
    held = [(n, words.grams(n * strength)) for n in (fewer, fewer + 1) if n and n * strength <= most + _SAME_G]
    if not held:
        return words.say("on_card.no_whole_piece", grams=words.grams(strength))
    return "; ".join(words.say("on_card.pieces_hold", pieces=amount(n, view, words), grams=g) for n, g in held)


def _most_held(plan_amount: AmountView, view: CardView) -> float:
    """The most grams that pieces offered for an amount of the plan may hold."""
    plan, most = view.plan, MOST_HELD * plan_amount.grams
    if plan.most_grams is None:
        return most
    below = plan.below_54.grams if plan.below_54 is not None else 0.0
    return min(most, max(plan.most_grams, below, plan_amount.grams))


def in_one(plan_amount: AmountView, view: CardView, words: Words) -> str:
    """'10 g (11 pieces)', '9 g (2 pieces: 7.3 g; 3 pieces: 10.9 g)', or '10 g'."""
    counted, grams = told(plan_amount, view, words)
    if grams:
        return words.say("on_card.in_one", grams=grams, amount=counted)
    near = pieces_near(plan_amount, view, words)
    return words.say("on_card.in_one", grams=counted, amount=near) if near else counted
