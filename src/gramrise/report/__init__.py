"""Floor 4: what people read: weekly report, card, clinic review. Other rooms import these names and nothing deeper.

Each name is loaded when it is first used: a command that only logs glucose does not wait for the typesetter.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from gramrise.report.card import CardSettings, CardView, VoidReason, card_view, void_reasons
    from gramrise.report.card.numbers.facts import counted
    from gramrise.report.card.numbers.states import may_be_swallowed
    from gramrise.report.card.pages.face import CardFace, face_of
    from gramrise.report.card.pages.page import card_pdf, card_png, card_text
    from gramrise.report.card.pages.plan_sheet import plan_sheet_pdf
    from gramrise.report.card.pages.withheld import withheld_sentences
    from gramrise.report.card.settings import SHIPPED_SETTINGS
    from gramrise.report.fhir.bundle import fhir_bundle
    from gramrise.report.lack_words import still_learning
    from gramrise.report.mixing.face import MixingFace, mixing_face
    from gramrise.report.mixing.page import mixing_pdf, mixing_png
    from gramrise.report.mixing.view import MixingView, mixing_view
    from gramrise.report.review.chapters.blocks import PageKind, Place
    from gramrise.report.review.chapters.drift_words import drift_sentence
    from gramrise.report.review.chapters.pairings_page import pairings_page
    from gramrise.report.review.chapters.panel_page import panel_page
    from gramrise.report.review.chapters.person_page import person_page
    from gramrise.report.review.chapters.visit_page import visit_page
    from gramrise.report.review.numbers.build import ReviewKnown, person_review
    from gramrise.report.review.numbers.drift_lines import drift_lines
    from gramrise.report.review.numbers.panel import panel_line, panel_of
    from gramrise.report.review.numbers.sign_offs import sign_offs
    from gramrise.report.review.numbers.view import DriftLine, Panel, PanelLine, PersonReview, Review
    from gramrise.report.review.pages.folder import panel_files, person_files
    from gramrise.report.review.pages.html import page_html, review_file, review_stylesheet
    from gramrise.report.review.pages.pdf import review_pdf
    from gramrise.report.review.pages.tables import pairings_table, panel_table
    from gramrise.report.review.settings import ReviewSettings
    from gramrise.report.screens import ScreenWords, screen_words
    from gramrise.report.spoken.clocks import local_time
    from gramrise.report.spoken.counts import count_row, counted_words, laid_words
    from gramrise.report.spoken.imports import import_counts, import_sentence
    from gramrise.report.spoken.outcomes import outcome_words
    from gramrise.report.spoken.questions import WHOLE_LOG, answer_words, choice_words, offered_words, question_words
    from gramrise.report.spoken.refusals import in_language
    from gramrise.report.spoken.stock import stock_sentence, weak_sentence
    from gramrise.report.weekly.numbers.build import weekly_view
    from gramrise.report.weekly.numbers.card_state import CardState
    from gramrise.report.weekly.numbers.supplies_view import SuppliesWeek
    from gramrise.report.weekly.numbers.view import WeeklyView
    from gramrise.report.weekly.pages.html import render_html
    from gramrise.report.weekly.pages.mail import compose
    from gramrise.report.weekly.pages.pdf import render_pdf
    from gramrise.report.weekly.pages.plain_text import render_text
    from gramrise.report.weekly.settings import Paper, ReportSettings
    from gramrise.report.words import Words, words_for

__all__ = [
    "SHIPPED_SETTINGS",
    "WHOLE_LOG",
    "CardFace",
    "CardSettings",
    "CardState",
    "CardView",
    "DriftLine",
    "MixingFace",
    "MixingView",
    "PageKind",
    "Panel",
    "PanelLine",
    "Paper",
    "PersonReview",
    "Place",
    "ReportSettings",
    "Review",
    "ReviewKnown",
    "ReviewSettings",
    "ScreenWords",
    "SuppliesWeek",
    "VoidReason",
    "WeeklyView",
    "Words",
    "answer_words",
    "card_pdf",
    "card_png",
    "card_text",
    "card_view",
    "choice_words",
    "compose",
    "count_row",
    "counted",
    "counted_words",
    "drift_lines",
    "drift_sentence",
    "face_of",
    "fhir_bundle",
    "import_counts",
    "import_sentence",
    "in_language",
    "laid_words",
    "local_time",
    "may_be_swallowed",
    "mixing_face",
    "mixing_pdf",
    "mixing_png",
    "mixing_view",
    "offered_words",
    "outcome_words",
    "page_html",
    "pairings_page",
    "pairings_table",
    "panel_files",
    "panel_line",
    "panel_of",
    "panel_page",
    "panel_table",
    "person_files",
    "person_page",
    "person_review",
    "plan_sheet_pdf",
    "question_words",
    "render_html",
    "render_pdf",
    "render_text",
    "review_file",
    "review_pdf",
    "review_stylesheet",
    "screen_words",
    "sign_offs",
    "still_learning",
    "stock_sentence",
    "visit_page",
    "void_reasons",
    "weak_sentence",
    "weekly_view",
    "withheld_sentences",
    "words_for",
]

# Where each name is defined, as imported above for the type checker.
_DEFINED_IN: Final = {
    "card": ("CardSettings", "CardView", "VoidReason", "card_view", "void_reasons"),
    "card.numbers.facts": ("counted",),
    "card.numbers.states": ("may_be_swallowed",),
    "card.pages.face": ("CardFace", "face_of"),
    "card.pages.page": ("card_pdf", "card_png", "card_text"),
    "card.pages.plan_sheet": ("plan_sheet_pdf",),
    "card.settings": ("SHIPPED_SETTINGS",),
    "card.pages.withheld": ("withheld_sentences",),
    "lack_words": ("still_learning",),
    "screens": ("ScreenWords", "screen_words"),
    "spoken.clocks": ("local_time",),
    "spoken.counts": ("count_row", "counted_words", "laid_words"),
    "spoken.imports": ("import_counts", "import_sentence"),
    "spoken.outcomes": ("outcome_words",),
    "spoken.questions": ("WHOLE_LOG", "answer_words", "choice_words", "offered_words", "question_words"),
    "spoken.refusals": ("in_language",),
    "spoken.stock": ("stock_sentence", "weak_sentence"),
    "words": ("Words", "words_for"),
    "mixing.face": ("MixingFace", "mixing_face"),
    "mixing.page": ("mixing_pdf", "mixing_png"),
    "mixing.view": ("MixingView", "mixing_view"),
    "fhir.bundle": ("fhir_bundle",),
    "review.chapters.blocks": ("PageKind", "Place"),
    "review.chapters.drift_words": ("drift_sentence",),
    "review.chapters.pairings_page": ("pairings_page",),
    "review.chapters.panel_page": ("panel_page",),
    "review.chapters.person_page": ("person_page",),
    "review.chapters.visit_page": ("visit_page",),
    "review.numbers.build": ("ReviewKnown", "person_review"),
    "review.numbers.drift_lines": ("drift_lines",),
    "review.numbers.panel": ("panel_line", "panel_of"),
    "review.numbers.sign_offs": ("sign_offs",),
    "review.numbers.view": ("DriftLine", "Panel", "PanelLine", "PersonReview", "Review"),
    "review.pages.folder": ("panel_files", "person_files"),
    "review.pages.html": ("page_html", "review_file", "review_stylesheet"),
    "review.pages.pdf": ("review_pdf",),
    "review.pages.tables": ("pairings_table", "panel_table"),
    "review.settings": ("ReviewSettings",),
    "weekly.numbers.build": ("weekly_view",),
    "weekly.numbers.card_state": ("CardState",),
    "weekly.pages.html": ("render_html",),
    "weekly.pages.mail": ("compose",),
    "weekly.pages.pdf": ("render_pdf",),
    "weekly.pages.plain_text": ("render_text",),
    "weekly.settings": ("Paper", "ReportSettings"),
    "weekly.numbers.supplies_view": ("SuppliesWeek",),
    "weekly.numbers.view": ("WeeklyView",),
}
_MODULE_OF: Final = {name: module for module, names in _DEFINED_IN.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_MODULE_OF[name]}"), name)
