"""Rows of each kind to frames, with what is asked about them and what is set aside."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.intake.rows.batches import batch_of, joined
    from gramrise.intake.rows.dose_entries import DoseEntry, dose_frame, dose_questions, doses_of_entries
    from gramrise.intake.rows.note_batches import note_batch, spoken_batch
    from gramrise.intake.rows.notes import is_note
    from gramrise.intake.rows.other_persons import denies_its_row, is_of_another, speaks_of_another
    from gramrise.intake.rows.quarantine import times_outside
    from gramrise.intake.rows.remarks_beside import names_another_amount
    from gramrise.intake.rows.row_account import check_told
    from gramrise.intake.rows.table_reader import read_table
    from gramrise.intake.rows.taken_rows import TakenRows
    from gramrise.intake.rows.unstated_sources import check_sources_stated
    from gramrise.intake.rows.weight_checks import age_questions, weight_questions

__all__ = [
    "DoseEntry",
    "TakenRows",
    "age_questions",
    "batch_of",
    "check_sources_stated",
    "check_told",
    "denies_its_row",
    "dose_frame",
    "dose_questions",
    "doses_of_entries",
    "is_note",
    "is_of_another",
    "joined",
    "names_another_amount",
    "note_batch",
    "read_table",
    "speaks_of_another",
    "spoken_batch",
    "times_outside",
    "weight_questions",
]

_HOMES = {
    "DoseEntry": "gramrise.intake.rows.dose_entries",
    "TakenRows": "gramrise.intake.rows.taken_rows",
    "batch_of": "gramrise.intake.rows.batches",
    "denies_its_row": "gramrise.intake.rows.other_persons",
    "is_of_another": "gramrise.intake.rows.other_persons",
    "speaks_of_another": "gramrise.intake.rows.other_persons",
    "names_another_amount": "gramrise.intake.rows.remarks_beside",
    "check_sources_stated": "gramrise.intake.rows.unstated_sources",
    "check_told": "gramrise.intake.rows.row_account",
    "dose_frame": "gramrise.intake.rows.dose_entries",
    "dose_questions": "gramrise.intake.rows.dose_entries",
    "doses_of_entries": "gramrise.intake.rows.dose_entries",
    "is_note": "gramrise.intake.rows.notes",
    "joined": "gramrise.intake.rows.batches",
    "note_batch": "gramrise.intake.rows.note_batches",
    "read_table": "gramrise.intake.rows.table_reader",
    "spoken_batch": "gramrise.intake.rows.note_batches",
    "times_outside": "gramrise.intake.rows.quarantine",
    "age_questions": "gramrise.intake.rows.weight_checks",
    "weight_questions": "gramrise.intake.rows.weight_checks",
}


def __getattr__(name: str) -> Any:
    """Loads a part when it is first asked for: a weighing that is typed in needs no frames."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(_HOMES[name]), name)
