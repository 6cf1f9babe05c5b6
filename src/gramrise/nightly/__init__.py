"""Floor 5: the nightly pass, the schedule, delivery, and whether all is well."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.nightly.cards import cards_out, make_card
    from gramrise.nightly.counting import ask_about_unlogged, placed_counts, stock_lines, weak_sources
    from gramrise.nightly.current import current_findings
    from gramrise.nightly.drifting import current_drift, points_on, signed_points
    from gramrise.nightly.export import bring_in_person, export_person
    from gramrise.nightly.forget import forget_person
    from gramrise.nightly.health import check_health
    from gramrise.nightly.inbox import INBOX
    from gramrise.nightly.ingest import take_in_file
    from gramrise.nightly.logs import log_to
    from gramrise.nightly.mail.weekly import view_of_week, write_report
    from gramrise.nightly.metrics import metrics_text
    from gramrise.nightly.night import Night, run_night
    from gramrise.nightly.one_person import run_person
    from gramrise.nightly.restore import back_into_inbox, restore_home
    from gramrise.nightly.reviews import (
        bundle_of,
        clinic_language,
        review_of,
        review_rules,
        reviews_of,
        write_files,
        write_review,
    )
    from gramrise.nightly.schedule import run_schedule
    from gramrise.nightly.settings import nightly_settings
    from gramrise.nightly.signing import SignOff, references_with_ends, sign_reference

__all__ = [
    "INBOX",
    "Night",
    "SignOff",
    "ask_about_unlogged",
    "back_into_inbox",
    "bring_in_person",
    "bundle_of",
    "cards_out",
    "check_health",
    "clinic_language",
    "current_drift",
    "current_findings",
    "export_person",
    "forget_person",
    "log_to",
    "make_card",
    "metrics_text",
    "nightly_settings",
    "placed_counts",
    "points_on",
    "references_with_ends",
    "restore_home",
    "review_of",
    "review_rules",
    "reviews_of",
    "run_night",
    "run_person",
    "run_schedule",
    "sign_reference",
    "signed_points",
    "stock_lines",
    "take_in_file",
    "view_of_week",
    "weak_sources",
    "write_files",
    "write_report",
    "write_review",
]

_HOMES = {
    "INBOX": "inbox",
    "Night": "night",
    "SignOff": "signing",
    "ask_about_unlogged": "counting",
    "back_into_inbox": "restore",
    "bring_in_person": "export",
    "bundle_of": "reviews",
    "cards_out": "cards",
    "check_health": "health",
    "clinic_language": "reviews",
    "current_drift": "drifting",
    "current_findings": "current",
    "export_person": "export",
    "forget_person": "forget",
    "log_to": "logs",
    "make_card": "cards",
    "metrics_text": "metrics",
    "nightly_settings": "settings",
    "placed_counts": "counting",
    "points_on": "drifting",
    "references_with_ends": "signing",
    "restore_home": "restore",
    "review_of": "reviews",
    "review_rules": "reviews",
    "reviews_of": "reviews",
    "run_night": "night",
    "run_person": "one_person",
    "run_schedule": "schedule",
    "sign_reference": "signing",
    "signed_points": "drifting",
    "stock_lines": "counting",
    "take_in_file": "ingest",
    "view_of_week": "mail.weekly",
    "write_files": "reviews",
    "weak_sources": "counting",
    "write_report": "mail.weekly",
    "write_review": "reviews",
}


def __getattr__(name: str) -> Any:
    """Loads a part of the service when it is first asked for: most commands need one of them only."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(f"gramrise.nightly.{_HOMES[name]}"), name)
