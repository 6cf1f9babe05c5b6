"""Floor 6: the nightly pass, the schedule, delivery, and whether all is well."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.nightly.current import current_findings
    from gramrise.nightly.night import Night, run_night
    from gramrise.nightly.one_person import run_person
    from gramrise.nightly.schedule import run_schedule

__all__ = ["Night", "current_findings", "run_night", "run_person", "run_schedule"]

_HOMES = {
    "Night": "night",
    "current_findings": "current",
    "run_night": "night",
    "run_person": "one_person",
    "run_schedule": "schedule",
}


def __getattr__(name: str) -> Any:
    """Loads a part of the service when it is first asked for: most commands need one of them only."""
    from importlib import import_module

    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(f"gramrise.nightly.{_HOMES[name]}"), name)
