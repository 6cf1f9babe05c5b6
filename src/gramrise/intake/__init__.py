"""Floor 2: files that people keep to frames: unpacked (files), recognised (layouts), read (cells), checked (rows)."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gramrise.connectors.shelf import load_layouts
    from gramrise.intake.amount_sizes import AMOUNT_LARGE, AMOUNT_REFUSED, doubt_of_size
    from gramrise.intake.cells import noticed_named, possible_days
    from gramrise.intake.problems import FileRefused, FileTrouble, FileWaits, unreadable
    from gramrise.intake.reading import read_batches, read_file
    from gramrise.intake.recognition_report import Recognition, recognise
    from gramrise.intake.rows import age_questions, weight_questions
    from gramrise.intake.settings import IntakeSettings, load_settings
    from gramrise.intake.spoken import read_note
    from gramrise.intake.typed.clock_times import instant_meant, instants_of
    from gramrise.intake.typed.clock_words import clock_alone, clocks_in
    from gramrise.intake.typed.dates import local_date
    from gramrise.intake.typed.spoken_times import without_time
    from gramrise.intake.words import HeaderWords, load_words

__all__ = [
    "AMOUNT_LARGE",
    "AMOUNT_REFUSED",
    "FileRefused",
    "FileTrouble",
    "FileWaits",
    "HeaderWords",
    "IntakeSettings",
    "Recognition",
    "age_questions",
    "clock_alone",
    "clocks_in",
    "doubt_of_size",
    "instant_meant",
    "instants_of",
    "load_layouts",
    "load_settings",
    "load_words",
    "local_date",
    "noticed_named",
    "possible_days",
    "read_batches",
    "read_file",
    "read_note",
    "recognise",
    "unreadable",
    "weight_questions",
    "without_time",
]

_HOMES = {
    "AMOUNT_LARGE": "gramrise.intake.amount_sizes",
    "AMOUNT_REFUSED": "gramrise.intake.amount_sizes",
    "FileRefused": "gramrise.intake.problems",
    "FileTrouble": "gramrise.intake.problems",
    "FileWaits": "gramrise.intake.problems",
    "HeaderWords": "gramrise.intake.words",
    "IntakeSettings": "gramrise.intake.settings",
    "Recognition": "gramrise.intake.recognition_report",
    "clock_alone": "gramrise.intake.typed.clock_words",
    "clocks_in": "gramrise.intake.typed.clock_words",
    "doubt_of_size": "gramrise.intake.amount_sizes",
    "instant_meant": "gramrise.intake.typed.clock_times",
    "instants_of": "gramrise.intake.typed.clock_times",
    "load_layouts": "gramrise.connectors.shelf",
    "load_settings": "gramrise.intake.settings",
    "load_words": "gramrise.intake.words",
    "noticed_named": "gramrise.intake.cells",
    "possible_days": "gramrise.intake.cells",
    "read_batches": "gramrise.intake.reading",
    "read_file": "gramrise.intake.reading",
    "read_note": "gramrise.intake.spoken",
    "recognise": "gramrise.intake.recognition_report",
    "unreadable": "gramrise.intake.problems",
    "age_questions": "gramrise.intake.rows",
    "weight_questions": "gramrise.intake.rows",
    "without_time": "gramrise.intake.typed.spoken_times",
    "local_date": "gramrise.intake.typed.dates",
}


def __getattr__(name: str) -> Any:
    """Loads a part when it is first asked for: to log one amount of glucose, no table need be recognised."""
    if name not in _HOMES:
        raise AttributeError(name)
    return getattr(import_module(_HOMES[name]), name)
