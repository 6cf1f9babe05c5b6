"""Rows of each kind to frames, with what is asked about them and what is set aside."""

from gramrise.intake.rows.batches import batch_of, joined
from gramrise.intake.rows.note_batches import note_batch, spoken_batch
from gramrise.intake.rows.notes import is_note
from gramrise.intake.rows.table_reader import read_table
from gramrise.intake.rows.taken_rows import TakenRows
from gramrise.intake.rows.unstated_sources import check_sources_stated
from gramrise.intake.rows.weight_checks import weight_questions

__all__ = [
    "TakenRows",
    "batch_of",
    "check_sources_stated",
    "is_note",
    "joined",
    "note_batch",
    "read_table",
    "spoken_batch",
    "weight_questions",
]
