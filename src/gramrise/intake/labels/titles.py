"""What stands above a table, or names its sheet: a title may say what the table holds, or that it never happened."""

import re

from gramrise.intake.files import TextTable
from gramrise.intake.labels.label_words import read_label
from gramrise.intake.labels.quantities import MEASURED, quantity_of
from gramrise.intake.words import HeaderWords, folded

_FIGURES = re.compile(r"[\d_.]+")
_NO_LETTER = re.compile(r"[^a-z]+")


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


def long_in_titles(table: TextTable, words: HeaderWords) -> str:
    """The title, or the file's own name, that speaks of long-acting insulin and of no rapid one; '' where none does.

    'Long acting' alone says it above a table of insulin; in the file's name only a word of insulin does.
    """
    for line in title_lines(table):
        means = read_label(line, words).meanings
        if means & {"long_insulin", "long_acting"} and "rapid" not in means:
            return line
    stem = table.file.partition(": ")[0].rpartition(".")[0]
    means = read_label(_FIGURES.sub(" ", stem), words).meanings
    long = "long_insulin" in means or {"long_acting", "insulin"} <= means or "acting" in folded(stem)
    return stem if long and means & {"long_insulin", "long_acting"} and "rapid" not in means else ""


def of_another(table: TextTable, words: HeaderWords) -> str:
    """The name of a sheet or key, or a line above, that says the rows are another's, or of another quantity.

    A key counts by any of its words; a line above only where every word is known: a sentence may speak of anybody.
    """
    _, _, inner = table.file.partition(": ")
    for line in dict.fromkeys((inner, *title_lines(table))):
        label = read_label(line, words)
        if label.meanings & {"relative", "not_itself"} and (line == inner or not label.unknown):
            return line
    return ""


def never_happened(table: TextTable, words: HeaderWords) -> str:
    """The title line, or name of a sheet, that calls its rows planned, a test, or an example; '' where none does."""
    bad, aside = ({folded(word) for word in words.states[state]} for state in ("bad", "aside"))
    _, _, inner = table.file.partition(": ")
    for line in (inner, *title_lines(table)):
        said = set(_NO_LETTER.sub(" ", folded(line)).split())
        said = {word[:-1] if word[:-1] in bad | aside and word.endswith("s") else word for word in said}
        # 'Modelo' above a table may be the model of a device: there it must stand alone.
        if said & bad or (said & aside if line == inner else said and said <= aside):
            return line
    return ""
