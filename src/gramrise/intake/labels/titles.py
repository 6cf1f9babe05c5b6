"""What stands above a table, or names its sheet: a title may say what the table holds, or that it never happened."""

from gramrise.intake.files import TextTable
from gramrise.intake.labels.label_words import read_label
from gramrise.intake.labels.quantities import MEASURED, quantity_of
from gramrise.intake.words import HeaderWords, folded


def title_lines(table: TextTable) -> list[str]:
    """The lines above a table that have no figures, and the name of its sheet or key."""
    _, _, inner = table.file.partition(": ")
    lines = [line for line in (inner, *table.preamble) if line and not any(mark.isdigit() for mark in line)]
    return [line for line in lines if len(line) <= 120]


def titled_quantities(table: TextTable, words: HeaderWords) -> set[str]:
    """The quantities of which the titles speak; words nobody knows do not count against a title."""
    found: set[str] = set()
    for line in title_lines(table):
        label = read_label(line, words)
        which = quantity_of(type(label)(label.text, label.meanings, label.units, ()))
        if which in MEASURED:
            found.add(which)
    return found


def never_happened(table: TextTable, words: HeaderWords) -> str:
    """The title line that calls its rows planned, predicted, or a test; '' where none does."""
    bad = {folded(word) for word in words.states["bad"]}
    for line in title_lines(table):
        if set(folded(line).replace(",", " ").replace(":", " ").split()) & bad:
            return line
    return ""
