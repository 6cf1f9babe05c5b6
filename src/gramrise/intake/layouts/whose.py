"""Whose a table is: a line above it, a column or a key that names a person who cannot be this one."""

import re
from itertools import pairwise
from typing import Final

from gramrise.connectors.layout import Layout
from gramrise.intake.cells import source_named
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.labels import (
    Named,
    days_written,
    is_birth_label,
    name_below,
    named_in_line,
    own_words,
    person_named,
    relative_named,
    shares_a_word,
)
from gramrise.intake.layouts.column_profiles import ColumnProfile, profile_columns
from gramrise.intake.layouts.row_columns import names_persons
from gramrise.intake.words import folded, header_words

_PLAIN_WORD: Final = re.compile(r"[^\W\d_]{3,20}")


def another_named(table: TextTable, layout: Layout, context: ReadContext) -> list[OpenPoint]:
    """The open point of a table that names somebody who is not this person, whether they live in this home or not."""
    lines = _of_lines(table, layout, context)
    if lines:
        return lines[:1]
    return _of_columns(table, layout, context)[:1] or _of_key(table, context)


def _of_lines(table: TextTable, layout: Layout, context: ReadContext) -> list[OpenPoint]:
    """Of the lines above a table, and of its sheet's name: one that is this person's makes all of them so."""
    person = context.person
    proof = " ".join(map(folded, layout.recognised_by.preamble))
    lines = [line for line in (*_sheet(table), *table.preamble) if not (proof and folded(line) in proof)]
    relative = next((line for line in lines if relative_named(line, person, context.words)), "")
    if relative:
        return [_another_name(relative, context, line=relative)]
    found = [(line, named_in_line(line, person, context.words)) for line in lines]
    for label, line in pairwise(lines):
        below = name_below(label, line, context.words)
        found += [(line, Named((below,)))] if below else []
    births = [(line, written, days) for line, said in found for written, days in said.births]
    names = [(line, name) for line, said in found for name in said.names]
    if any(person.born in days for _, _, days in births) or any(shares_a_word(name, person) for _, name in names):
        return []
    points = [_another_name(name, context, line=line) for line, name in names if own_words(person)]
    return points + [_another_birth(written, context) for _, written, _ in births]


def _sheet(table: TextTable) -> list[str]:
    """The name of a table's sheet; a key of JSON has a rule of its own."""
    _, _, inner = table.file.partition(": ")
    return [inner] if inner and not _is_json(table) else []


def _is_json(table: TextTable) -> bool:
    return bool(table.header) and table.header_row is None


def _of_key(table: TextTable, context: ReadContext) -> list[OpenPoint]:
    """A key of JSON that is one word which nobody knows: {"tom": [...]}."""
    key = table.file.rpartition(": ")[2].rpartition(".")[2] if ": " in table.file and _is_json(table) else ""
    word = folded(key)
    if not _PLAIN_WORD.fullmatch(key) or word in context.words.listed("whose", "keys") or not key[1:].islower():
        return []
    if not own_words(context.person) or not person_named(key, context.words) or shares_a_word(key, context.person):
        return []
    return [OpenPoint(
        "other_person", f"it was brought for {_called(context)}, and its key '{key}' may be another's name",
        "bring it for the person it names, or, where it is this person's, write the name as it stands there into "
        f"theirs with gramrise person set {context.person.person_id} --name NAME",
    )]  # fmt: skip


def _of_columns(table: TextTable, layout: Layout, context: ReadContext) -> list[OpenPoint]:
    """Of columns that hold one name, or one birth date, in all their cells."""
    person = context.person
    chosen = {table.column(part.when.column) for part in layout.brings if part.when is not None}
    names: list[tuple[ColumnProfile, str]] = []
    births: list[ColumnProfile] = []
    for column in profile_columns(table, context.words):
        if column.different != 1 or str(column.at) in chosen:
            continue
        cell = column.examples[0]
        if is_birth_label(column.label, context.words):
            births += [column] if days_written(cell) else []
        elif names_persons(column, context.words) and (name := _name_in(column, cell, context)):
            names.append((column, name))
    if any(person.born in days_written(column.examples[0]) for column in births):
        return []
    if any(shares_a_word(name, person) for _, name in names):
        return []
    points = [_another_name(name, context, column=one.label) for one, name in names if own_words(person)]
    return points + [_another_birth(one.examples[0], context) for one in births]


def _name_in(column: ColumnProfile, cell: str, context: ReadContext) -> str:
    """The name that the cells of a column are; under a word for kinds of rows, too, only with a capital.

    A source of glucose is no person, and who uses an account is as often a parent.
    """
    if "kind" in column.meanings and not cell[:1].isupper():
        return ""
    if (
        context.words.listed("whose", "users").intersection(header_words(column.label))
        or source_named(cell, context.person.sources_now()) is not None
    ):
        return ""
    return person_named(cell, context.words)


def _called(context: ReadContext) -> str:
    return context.person.name or context.person.person_id


def _another_name(name: str, context: ReadContext, *, line: str = "", column: str = "") -> OpenPoint:
    """For a name in a line above the table, or in a column."""
    called = _called(context)
    keep = f'preamble = ["{line.strip()}"]' if line and '"' not in line else ""
    return OpenPoint(
        "other_person",
        f"it was brought for {called}, and the line '{line[:60]}' names '{name[:40]}'"
        if line
        else f"it was brought for {called}, and column '{column}' names '{name[:40]}'",
        "bring it for the person it names, or, where it is this person's, write the name as it stands there into "
        f"theirs with gramrise person set {context.person.person_id} --name NAME",
        ("it is this person's file",) if keep else (), (keep,) if keep else (),
    )  # fmt: skip


def _another_birth(written: str, context: ReadContext) -> OpenPoint:
    return OpenPoint(
        "other_person",
        f"it names '{written[:20]}' as a birth date, and {_called(context)} was born on another day",
        "bring it for the person it is of, or, where one of the two dates is a slip, mend it with "
        f"gramrise person set {context.person.person_id} --born DATE",
    )  # fmt: skip
