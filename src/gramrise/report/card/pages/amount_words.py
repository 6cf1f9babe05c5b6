"""Readings, strengths and amounts of the card in words."""

from babel.numbers import format_decimal

from gramrise.domain.units import GlucoseUnit
from gramrise.report.card.numbers.view import AmountView, CardView
from gramrise.report.words import Words


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
    """An amount of the plan in pieces or mL and in grams; where no whole number comes close, grams and ''."""
    grams = words.say("on_card.grams", grams=exactly(plan_amount.grams, words))
    return (grams, "") if plan_amount.units is None else (amount(plan_amount.units, view, words), grams)


def in_one(plan_amount: AmountView, view: CardView, words: Words) -> str:
    """'10 g (11 pieces)', or '10 g'."""
    counted, grams = told(plan_amount, view, words)
    return words.say("on_card.in_one", grams=grams, amount=counted) if grams else counted
