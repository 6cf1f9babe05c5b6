"""Floor 6: the nightly pass, the schedule, delivery, and whether all is well."""

from gramrise.nightly.one_person import run_person

__all__ = ["run_person"]
