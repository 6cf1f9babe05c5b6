"""A layout for a table that no known layout fits, from what its header words and its cells prove."""

from gramrise.connectors.layout import DRAFT_NAME, Clock, Layout, Part, RecognisedBy
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.clock_columns import clock_of
from gramrise.intake.layouts.column_profiles import ColumnProfile, profile_columns
from gramrise.intake.layouts.kind_column import parts_by_kind
from gramrise.intake.layouts.value_columns import parts_of_columns

RECOGNISED = DRAFT_NAME


def infer_layout(table: TextTable, context: ReadContext, evidence: Evidence) -> Layout:
    """The layout a table's content proves, its open points in `evidence.open`."""
    columns = [column for column in profile_columns(table, context.words) if column.filled]
    clock = clock_of(columns, table.preamble, evidence)
    used = {column.name for column in columns if clock is not None and column.name in _names(clock)}
    rest = [column for column in columns if column.name not in used]
    person_column = _one_person(rest, evidence)
    parts: list[Part] = []
    if clock is not None:
        kinds = [column for column in rest if "kind" in column.meanings and column.different <= 40]
        if len(kinds) == 1:
            parts = parts_by_kind(kinds[0], rest, table, clock, context, evidence)
        if not parts and not evidence.open:
            parts = parts_of_columns(table, clock, rest, context, evidence)
    if clock is None or not parts:
        if not evidence.open:
            evidence.open.append(_nothing_known(columns))
        return _sketch(table, clock, parts, columns)
    about, proof = "What the table itself proves", _proof(table)
    return Layout(
        name=RECOGNISED, about=about, recognised_by=proof, person_column=person_column, clock=clock, brings=tuple(parts)
    )


def _proof(table: TextTable) -> RecognisedBy:
    """A draft that is kept recognises later files by the whole header, where there is one."""
    return RecognisedBy(header=tuple(dict.fromkeys(cell.strip() for cell in table.header if cell.strip())))


def _names(clock: Clock) -> set[str]:
    return {*clock.columns, clock.offset_column}


def _one_person(columns: list[ColumnProfile], evidence: Evidence) -> str:
    """The column that names the person; several names stay open."""
    named = [column for column in columns if "person" in column.meanings]
    for column in named:
        if column.different > 1:
            names = column.examples[:5]
            evidence.open.append(OpenPoint(
                "several_persons", f"column '{column.label}' names {column.different} different persons",
                "say under [[brings]] in a layout which rows are this person's",
                tuple(f"the rows of '{name}'" for name in names),
                tuple(f'when = {{ column = "{column.name}", words = ["{name}"] }}' for name in names),
            ))  # fmt: skip
    return named[0].name if named else ""


def _nothing_known(columns: list[ColumnProfile]) -> OpenPoint:
    labels = ", ".join(f"'{column.label}'" for column in columns)
    return OpenPoint(
        "no_meaning",
        f"nothing says what the columns {labels} hold" if columns else "it has no columns",
        "put a header over them, for readings: time, glucose (mg/dL) or (mmol/L); for glucose given: time, source, "
        "amount, or: time, grams",
    )


def _sketch(table: TextTable, clock: Clock | None, parts: list[Part], columns: list[ColumnProfile]) -> Layout:
    """A draft to be completed: what is known, and for the rest the columns by their place."""
    from gramrise.connectors.layout import Glucose

    timed = clock or Clock(columns=(columns[0].name if columns else "#1",))
    others = [column for column in columns if column.name not in _names(timed)]
    numbers = [column for column in others if column.holds == "number"] or others
    guess = parts or [Glucose(kind="readings", value=numbers[0].name if numbers else "#2")]
    return Layout(
        name=RECOGNISED,
        about="A draft: complete it",
        recognised_by=_proof(table),
        clock=timed,
        brings=tuple(guess),
    )
