"""The layout of a table: one at hand that fits, or what the table itself proves, with its open entries resolved."""

import re

from gramrise.connectors.layout import DRAFT_NAME, Layout
from gramrise.connectors.shelf import shipped_layouts
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.amount_headers import check_no_share
from gramrise.intake.layouts.column_profiles import profile_columns
from gramrise.intake.layouts.container_counts import refuse_counts
from gramrise.intake.layouts.dose_checks import check_no_factor, check_one_dose_a_row, with_dose_units
from gramrise.intake.layouts.drafting import draft_of
from gramrise.intake.layouts.inference import infer_layout, named_columns
from gramrise.intake.layouts.matching import known_layout
from gramrise.intake.layouts.resolving import resolve_layout
from gramrise.intake.layouts.row_columns import check_devices, check_names_in_words, check_states
from gramrise.intake.layouts.stated_strengths import check_strengths
from gramrise.intake.layouts.table_checks import check_table
from gramrise.intake.layouts.whose import another_named
from gramrise.intake.words import folded

_PARTS = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+){0,9}")


def recognise_layout(
    table: TextTable, layouts: tuple[Layout, ...], layout_name: str | None, context: ReadContext, evidence: Evidence
) -> Layout:
    """The layout of a table; what stays open is in `evidence.open`. Raises FileWaits where no draft can be made."""
    layout = known_layout(table, layouts, layout_name, context, evidence)
    if layout is None:
        refuse_counts(table, context)
        layout = infer_layout(table, context, evidence)
    else:
        _account(table, layout, layout_name is None, context, evidence)
    if layout.name == DRAFT_NAME or (layout_name is None and _is_shipped(layout)):
        layout = with_dose_units(layout, named_columns(layout), table, context, evidence)
        check_no_factor(layout, named_columns(layout), table, context, evidence)
        check_no_share(layout, named_columns(layout), table, context, evidence)
        check_one_dose_a_row(layout, table, context, evidence)
    resolved = resolve_layout(table, layout, context, evidence)
    check_table(table, resolved, context, evidence)
    if layout_name is None:
        check_strengths(layout, table, context, evidence)
        evidence.open += other_person_named(table, context) or another_named(table, resolved, context)
    return resolved


def other_person_named(table: TextTable, context: ReadContext) -> list[OpenPoint]:
    """The file's name, its sheet's or key's, or a line above the table names another person of the household."""
    file, _, inner = table.file.partition(": ")
    for where in (file.rpartition(".")[0] or file, inner, *table.preamble):
        named = sorted(set(_PARTS.findall(folded(where))) & context.others)
        if named:
            return [OpenPoint(
                "several_persons", f"'{where[:60]}' names {named[0]}, another person of this household",
                f"bring the file for {named[0]}; where it is not theirs, take the name out or say --layout NAME",
                (f"it is the file of {named[0]}", "it is this person's file"), ("", ""),
            )]  # fmt: skip
    return []


def proved_layout(
    table: TextTable, layouts: tuple[Layout, ...], layout_name: str | None, context: ReadContext
) -> Layout:
    """The layout of a table, nothing of it open. Raises FileWaits where something is."""
    evidence = Evidence()
    layout = recognise_layout(table, layouts, layout_name, context, evidence)
    if evidence.open:
        raise evidence.open[0].waits(table.file, draft_of(layout))
    return layout


def _account(table: TextTable, layout: Layout, found: bool, context: ReadContext, evidence: Evidence) -> None:
    """What each column of a known layout is; remarks of a shipped one may say that a row does not count."""
    columns = [column for column in profile_columns(table, context.words) if column.filled]
    used = {table.column(name) for name in named_columns(layout)}
    for column in columns:
        evidence.account(column.label, str(column.at) in used, f"layout '{layout.name}' says so")
    if found and _is_shipped(layout):
        words = [column for column in columns if column.holds == "text"]
        check_states(words, table.cells.height, context, evidence)
        check_names_in_words(words, table.cells.height, context, evidence)
        check_devices(columns, table, evidence)


def _is_shipped(layout: Layout) -> bool:
    return any(layout.name == shipped.name for shipped in shipped_layouts())
