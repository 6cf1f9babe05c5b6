"""Floor 5: the nightly pass, the schedule, delivery, and whether all is well."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.nightly.answers import (
        alike_to,
        alike_words,
        answer_refused,
        answers_offered,
        asked_back,
        grams_answer,
    )
    from gramrise.nightly.cards import cards_out, cards_turned, make_card, which_hold
    from gramrise.nightly.changes_in_words import described
    from gramrise.nightly.counting import ask_about_unlogged, placed_counts, stock_lines, weak_sources
    from gramrise.nightly.current import current_findings
    from gramrise.nightly.doubted_weights import judge_weights_anew
    from gramrise.nightly.drifting import current_drift, points_on, signed_points
    from gramrise.nightly.export import bring_in_person, export_person
    from gramrise.nightly.family_facts import lost_strengths
    from gramrise.nightly.forget import forget_person
    from gramrise.nightly.health import check_health
    from gramrise.nightly.inbox import INBOX, files_held, settle_if_held
    from gramrise.nightly.ingest import FileTaken, joined, mostly_corrects, take_in_file
    from gramrise.nightly.live_panel import LivePanel
    from gramrise.nightly.logs import log_to
    from gramrise.nightly.made_supplies import count_of, last_count, log_batch, with_strength
    from gramrise.nightly.mail.weekly import view_of_week, write_report
    from gramrise.nightly.metrics import metrics_text
    from gramrise.nightly.night import Night, run_night
    from gramrise.nightly.one_person import run_person
    from gramrise.nightly.other_clock import read_on_another_clock
    from gramrise.nightly.restore import Restored, back_into_inbox, restore_home, restore_told
    from gramrise.nightly.reviews import (
        bundle_of,
        clinic_language,
        review_of,
        review_rules,
        reviews_of,
        write_files,
        write_review,
    )
    from gramrise.nightly.schedule import run_schedule, schedule_beside
    from gramrise.nightly.settings import nightly_settings
    from gramrise.nightly.signing import SignOff, references_with_ends, sign_reference

__all__ = [
    "INBOX",
    "FileTaken",
    "LivePanel",
    "Night",
    "Restored",
    "SignOff",
    "alike_to",
    "alike_words",
    "answer_refused",
    "answers_offered",
    "ask_about_unlogged",
    "asked_back",
    "back_into_inbox",
    "bring_in_person",
    "bundle_of",
    "cards_out",
    "cards_turned",
    "check_health",
    "clinic_language",
    "count_of",
    "current_drift",
    "current_findings",
    "described",
    "export_person",
    "files_held",
    "forget_person",
    "grams_answer",
    "joined",
    "judge_weights_anew",
    "last_count",
    "log_batch",
    "log_to",
    "lost_strengths",
    "make_card",
    "metrics_text",
    "mostly_corrects",
    "nightly_settings",
    "placed_counts",
    "points_on",
    "read_on_another_clock",
    "references_with_ends",
    "restore_home",
    "restore_told",
    "review_of",
    "review_rules",
    "reviews_of",
    "run_night",
    "run_person",
    "run_schedule",
    "schedule_beside",
    "settle_if_held",
    "sign_reference",
    "signed_points",
    "stock_lines",
    "take_in_file",
    "view_of_week",
    "weak_sources",
    "which_hold",
    "with_strength",
    "write_files",
    "write_report",
    "write_review",
]

_HOMES = {
    "INBOX": "inbox",
    "Night": "night",
    "SignOff": "signing",
    "alike_to": "answers",
    "alike_words": "answers",
    "asked_back": "answers",
    "answer_refused": "answers",
    "answers_offered": "answers",
    "ask_about_unlogged": "counting",
    "back_into_inbox": "restore",
    "bring_in_person": "export",
    "bundle_of": "reviews",
    "which_hold": "cards",
    "cards_out": "cards",
    "cards_turned": "cards",
    "check_health": "health",
    "clinic_language": "reviews",
    "count_of": "made_supplies",
    "FileTaken": "ingest",
    "joined": "ingest",
    "mostly_corrects": "ingest",
    "described": "changes_in_words",
    "lost_strengths": "family_facts",
    "read_on_another_clock": "other_clock",
    "LivePanel": "live_panel",
    "current_drift": "drifting",
    "current_findings": "current",
    "judge_weights_anew": "doubted_weights",
    "export_person": "export",
    "files_held": "inbox",
    "settle_if_held": "inbox",
    "forget_person": "forget",
    "grams_answer": "answers",
    "last_count": "made_supplies",
    "log_batch": "made_supplies",
    "log_to": "logs",
    "make_card": "cards",
    "metrics_text": "metrics",
    "nightly_settings": "settings",
    "placed_counts": "counting",
    "points_on": "drifting",
    "references_with_ends": "signing",
    "Restored": "restore",
    "restore_home": "restore",
    "restore_told": "restore",
    "review_of": "reviews",
    "review_rules": "reviews",
    "reviews_of": "reviews",
    "run_night": "night",
    "run_person": "one_person",
    "run_schedule": "schedule",
    "schedule_beside": "schedule",
    "sign_reference": "signing",
    "signed_points": "drifting",
    "stock_lines": "counting",
    "take_in_file": "ingest",
    "view_of_week": "mail.weekly",
    "weak_sources": "counting",
    "with_strength": "made_supplies",
    "write_files": "reviews",
    "write_report": "mail.weekly",
    "write_review": "reviews",
}


def __getattr__(name: str) -> Any:
    """Loads a part of the service when it is first asked for: most commands need one of them only."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(f"gramrise.nightly.{_HOMES[name]}"), name)
