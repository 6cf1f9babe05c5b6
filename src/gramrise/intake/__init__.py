"""Floor 2: tables and notes people keep, recognised by proof, read into frames; what stays open waits or is asked."""

from gramrise.connectors.shelf import load_layouts
from gramrise.intake.problems import FileRefused, FileTrouble, FileWaits
from gramrise.intake.reading import read_batches, read_file, read_note
from gramrise.intake.recognition_report import Recognition, recognise
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
]
