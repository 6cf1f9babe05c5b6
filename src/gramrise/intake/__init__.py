"""Floor 2: files that people keep to frames: unpacked (files), recognised (layouts), read (cells), checked (rows)."""

from gramrise.connectors.shelf import load_layouts
from gramrise.intake.problems import FileRefused, FileTrouble, FileWaits
from gramrise.intake.reading import read_batches, read_file, read_note
from gramrise.intake.recognition_report import Recognition, recognise
from gramrise.intake.rows import weight_questions
from gramrise.intake.settings import IntakeSettings, load_settings
from gramrise.intake.words import HeaderWords, load_words

__all__ = [
    "FileRefused",
    "FileTrouble",
    "FileWaits",
    "HeaderWords",
    "IntakeSettings",
    "Recognition",
    "load_layouts",
    "load_settings",
    "load_words",
    "read_batches",
    "read_file",
    "read_note",
    "recognise",
    "weight_questions",
]
