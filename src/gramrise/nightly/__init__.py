"""Floor 5: the nightly pass, the schedule, delivery, and whether all is well."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.nightly.cards import cards_out, make_card
    from gramrise.nightly.counting import ask_about_unlogged, placed_counts, stock_lines, weak_sources
    from gramrise.nightly.current import current_findings
    from gramrise.nightly.forget import forget_person
    from gramrise.nightly.health import check_health
    from gramrise.nightly.inbox import INBOX
    from gramrise.nightly.ingest import take_in_file
    from gramrise.nightly.mail.weekly import view_of_week, write_report
    from gramrise.nightly.night import Night, run_night
    from gramrise.nightly.one_person import run_person
    from gramrise.nightly.restore import back_into_inbox, restore_home
    from gramrise.nightly.schedule import run_schedule
    from gramrise.nightly.settings import nightly_settings
    from gramrise.nightly.signing import SignOff, references_with_ends, sign_reference

__all__ = [
    "INBOX",
    "Night",
    "SignOff",
    "ask_about_unlogged",
    "back_into_inbox",
    "cards_out",
    "check_health",
    "current_findings",
    "forget_person",
    "make_card",
    "nightly_settings",
    "placed_counts",
    "references_with_ends",
    "restore_home",
    "run_night",
    "run_person",
    "run_schedule",
    "sign_reference",
    "stock_lines",
    "take_in_file",
    "view_of_week",
    "weak_sources",
    "write_report",
]

_HOMES = {
    "INBOX": "inbox",
    "Night": "night",
    "SignOff": "signing",
    "ask_about_unlogged": "counting",
    "back_into_inbox": "restore",
    "cards_out": "cards",
    "check_health": "health",
    "current_findings": "current",
    "forget_person": "forget",
    "make_card": "cards",
    "nightly_settings": "settings",
    "placed_counts": "counting",
    "references_with_ends": "signing",
    "restore_home": "restore",
    "run_night": "night",
    "run_person": "one_person",
    "run_schedule": "schedule",
    "sign_reference": "signing",
    "stock_lines": "counting",
    "take_in_file": "ingest",
    "view_of_week": "mail.weekly",
    "weak_sources": "counting",
    "write_report": "mail.weekly",
}


def __getattr__(name: str) -> Any:
    """Loads a part of the service when it is first asked for: most commands need one of them only."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(f"gramrise.nightly.{_HOMES[name]}"), name)
