"""The glucose card: one first amount by reading and time of day, for one source."""

from gramrise.report.card.build import card_view
from gramrise.report.card.settings import CardSettings
from gramrise.report.card.view import CardView
from gramrise.report.card.void import VoidReason, void_reasons

__all__ = ["CardSettings", "CardView", "VoidReason", "card_view", "void_reasons"]
