"""The glucose card: one first amount by reading and time of day, for one source."""

from gramrise.report.card.numbers.build import card_view
from gramrise.report.card.numbers.view import CardView
from gramrise.report.card.numbers.void import VoidReason, void_reasons
from gramrise.report.card.settings import CardSettings

__all__ = ["CardSettings", "CardView", "VoidReason", "card_view", "void_reasons"]
