"""A layout for a table that no known layout fits, from what its header words, units and kind words say."""

from itertools import pairwise

from gramrise.connectors.layout import DRAFT_NAME, Clock, Glucose, GlucoseGiven, Insulin, Layout, Part, RecognisedBy
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.labels import (
    AMOUNT,
    GLUCOSE,
    NOTHING,
    UNKNOWN,
    VALUE,
    holds_zones,
    never_happened,
    of_another,
    read_label,
)
from gramrise.intake.layouts.clock_columns import check_no_entry_time, clock_of, offsets_written
from gramrise.intake.layouts.column_profiles import ColumnProfile, profile_columns
from gramrise.intake.layouts.kind_column import parts_by_kind
from gramrise.intake.layouts.row_columns import (
    check_devices,
    check_ids,
    check_names_in_words,
    check_person,
    check_states,
    is_kind,
    says_who_gave,
    units_in,
)
from gramrise.intake.layouts.table_checks import in_many_rows
from gramrise.intake.layouts.value_columns import parts_of_columns

RECOGNISED = DRAFT_NAME
_MEASURES = {"number", "text"}  # other cells are times


def infer_layout(table: TextTable, context: ReadContext, evidence: Evidence) -> Layout:
    """The layout a table's content proves, its open points in `evidence.open`."""
    profiles = [one for one in profile_columns(table, context.words) if not _of_stray_cells(one, table)]
    layout = _inferred(table, [column for column in profiles if column.filled], context, evidence)
    _name_the_rest(profiles, named_columns(layout), evidence)
    return layout


def _of_stray_cells(column: ColumnProfile, table: TextTable) -> bool:
    """Whether a column is only cells of a few rows beyond the header, which are set aside: a comma in a note."""
    return 0 < len(table.header) <= column.at and not in_many_rows(column.filled, table.cells.height)


def _name_the_rest(columns: list[ColumnProfile], named: list[str], evidence: Evidence) -> None:
    """Every column is named with what it was taken for, in the evidence or in a question."""
    told = " ".join([*(f"{one.what} {one.why}" for one in evidence.proved), *(point.what for point in evidence.open)])
    for column in columns:
        if not column.filled:
            evidence.prove(f"'{column.label}' is passed over", "it is empty")
        elif f"'{column.label}'" not in told:
            evidence.account(column.label, column.name in named, f"its cells are such as '{column.examples[0][:40]}'")


def _inferred(table: TextTable, columns: list[ColumnProfile], context: ReadContext, evidence: Evidence) -> Layout:
    counted = next((column for column in columns if "container" in column.meanings), None)
    if counted is not None:
        evidence.open.append(_counts(counted))
    clock = clock_of(columns, table.preamble, context.person, context.words, evidence)
    parts: list[Part] = []
    persons: list[ColumnProfile] = []
    if clock is not None:
        rest = [column for column in columns if column.name not in _names(clock)]
        timed = [column for column in columns if column.name in clock.columns]
        parts, persons = _parts(table, clock, timed, rest, context, evidence)
        if any(isinstance(part, GlucoseGiven | Insulin) for part in parts):
            check_no_entry_time(timed, evidence)
    if clock is None or not parts:
        if clock is not None and all(point.code in _OF_COLUMNS for point in evidence.open):
            evidence.open[:] = [_nothing_known(columns)]
        return _sketch(table, clock or Clock(columns=(columns[0].name if columns else "#1",)), parts, columns)
    about, proof = "What the table itself proves", _proof(table)
    return Layout(
        name=RECOGNISED,
        about=about,
        recognised_by=proof,
        person_column=persons[0].name if persons else "",
        clock=clock,
        brings=tuple(parts),
    )


_OF_COLUMNS = {"column_open"}


def _parts(
    table: TextTable,
    clock: Clock,
    timed: list[ColumnProfile],
    rest: list[ColumnProfile],
    context: ReadContext,
    evidence: Evidence,
) -> tuple[list[Part], list[ColumnProfile]]:
    """The parts that the columns beside the time bring, and the columns that name the person."""
    noticed = [column for column in rest if "noticed" in column.meanings and column.holds == "text"]
    givers = [column for column in rest if says_who_gave(column, context.words)]
    for column in givers:
        evidence.prove(f"'{column.label}' is passed over", "it says who gave it")
    rest = [column for column in rest if column not in noticed and column not in givers]
    kinds = [column for column in rest if is_kind(column, context)]
    others = [column for column in rest if column not in kinds]
    persons = check_person(others, context, evidence)
    others = [column for column in others if column not in persons]
    check_ids(others, evidence)
    check_names_in_words(others, table.cells.height, context, evidence)
    check_devices(others, table, evidence)
    states = check_states(others, table.cells.height, context, evidence)
    others = [column for column in others if column not in states or "note" in column.meanings]
    others = [column for column in others if not (column.holds == "text" and holds_zones(column.examples))]
    title = never_happened(table, context.words)
    if title:
        evidence.open.append(_never(title))
    elif other := of_another(table, context.words):
        evidence.open.append(_another(other))
    if len(kinds) > 1:
        evidence.open.append(_several_kinds(kinds))
        return [], persons
    if kinds:
        parts = parts_by_kind(kinds[0], others, table, clock, context, evidence)
    else:
        parts = parts_of_columns(table, clock, others, context, evidence)
    parts = _with_who_noticed(parts, noticed, evidence)
    used = {*_columns_of(parts)}
    left = [column for column in others if column.name not in used]
    if any(isinstance(part, Insulin) for part in parts):
        evidence.open += [_long_in_words(column) for column in _of_words(others) if _speaks_of_long(column, context)]
    evidence.open += _left_over(left, bool(kinds), table, clock, timed, context, evidence)
    return parts, persons


def _with_who_noticed(parts: list[Part], noticed: list[ColumnProfile], evidence: Evidence) -> list[Part]:
    """The column that says who noticed belongs to the glucose given; beside nothing given it is passed over."""
    if len(noticed) != 1:
        evidence.open += [_column_open(column) for column in noticed]
        return parts
    given = [part for part in parts if isinstance(part, GlucoseGiven) and not part.remarks_too]
    label = noticed[0].label
    evidence.prove(f"'{label}' says who noticed" if given else f"'{label}' is passed over", "its header says so")
    return [part.model_copy(update={"noticed": noticed[0].name}) if part in given else part for part in parts]


def _columns_of(parts: list[Part]) -> list[str]:
    """Every column that a part names."""
    keys = ("value", "unit_column", "grams", "amount", "source", "form", "text", "units", "note", "until", "noticed")
    named = [name for part in parts for key in keys if (name := getattr(part, key, ""))]
    return [*named, *(part.when.column for part in parts if part.when is not None)]


def named_columns(layout: Layout) -> list[str]:
    """Every column that a layout names."""
    clock = _names(layout.clock) if layout.clock is not None else set()
    return [*clock, *([layout.person_column] if layout.person_column else []), *_columns_of(list(layout.brings))]


def _left_over(
    left: list[ColumnProfile],
    by_kind: bool,
    table: TextTable,
    clock: Clock,
    timed: list[ColumnProfile],
    context: ReadContext,
    evidence: Evidence,
) -> list[OpenPoint]:
    """Columns no part uses: passed over by name where their words say that nothing of them is kept, else open."""
    told = [point.what for point in evidence.open]
    words_open = by_kind and any(point.code == "kind_open" for point in evidence.open)
    told += [one.what for one in evidence.proved if "says the same as" in one.what or "passed over" in one.what]
    found = []
    for column in left:
        if column.holds not in _MEASURES:
            evidence.prove(f"'{column.label}' is passed over", "its cells are other times")
        elif units_in(column, context.words) or (by_kind and column.holds == "text" and "unit" in column.meanings):
            evidence.prove(f"'{column.label}' names units", f"such as '{column.examples[0]}'")
        elif column.meanings & {"offset", "zone"} and not clock.offset_column and offsets_written(timed):
            evidence.prove(f"'{column.label}' is passed over", "each time carries its own offset")
        elif _is_understood(column, table):
            evidence.prove(f"'{column.label}' is passed over", "its words say that nothing of it is kept")
        elif words_open and column.holds == "number" and column.quantity in {VALUE, AMOUNT}:
            evidence.prove(f"'{column.label}' holds the numbers of these kinds", "each is asked about by its word")
        elif not any(f"'{column.label}'" in what for what in told):
            found.append(_column_open(column))
    return found


def _is_understood(column: ColumnProfile, table: TextTable) -> bool:
    which = column.quantity
    if which in {NOTHING, "long_insulin"} or "not_time" in column.meanings:
        return True
    if column.said.unknown:
        return False
    if column.meanings & {"offset", "zone"}:
        return False
    if which == UNKNOWN and column.meanings & {"until", "when", "date", "time_of_day"}:
        return not column.said.units
    no_header = not (column.at < len(table.header) and table.header[column.at].strip())
    return no_header and _counts_rows(column)


def _of_words(columns: list[ColumnProfile]) -> list[ColumnProfile]:
    """The columns of words."""
    return [column for column in columns if column.holds == "text"]


def _speaks_of_long(column: ColumnProfile, context: ReadContext) -> bool:
    means = [read_label(cell, context.words).meanings for cell in column.examples]
    return any("long_insulin" in said or {"long_acting", "insulin"} <= said for said in means)


def _long_in_words(column: ColumnProfile) -> OpenPoint:
    return OpenPoint(
        "insulin_open", f"the words of column '{column.label}' speak of long-acting insulin, and rows hold insulin",
        "say in a layout which rows are rapid insulin: long-acting insulin is not kept",
        ("every row is rapid insulin", "only some rows are"),
        ("keep the layout as it is", f'when = {{ column = "{column.name}", words = ["WORD"] }}'),
    )  # fmt: skip


def _counts_rows(column: ColumnProfile) -> bool:
    """1, 2, 3 ...: the rows' own numbers."""
    numbers = [int(cell) for cell in column.examples if cell.isascii() and cell.isdigit()]
    steps = [second - first for first, second in pairwise(numbers)]
    return len(numbers) == len(column.examples) > 2 and all(step == 1 for step in steps)


def _column_open(column: ColumnProfile) -> OpenPoint:
    word = f", for '{column.said.unknown[0]}' is a word it does not know" if column.said.unknown else ""
    lines = [
        ("nothing to keep", "no part for this column: keep the layout as it is"),
        ("a sensor's readings", f'[[brings]]\nkind = "readings"\nvalue = "{column.name}"\nunit = "mg/dL"'),
        ("finger-sticks", f'[[brings]]\nkind = "fingers"\nvalue = "{column.name}"\nunit = "mg/dL"'),
        ("units of rapid insulin", f'[[brings]]\nkind = "insulin"\nunits = "{column.name}"'),
        ("grams of carbohydrate", f'[[brings]]\nkind = "food"\ngrams = "{column.name}"'),
        ("glucose given, in grams", f'[[brings]]\nkind = "doses"\ngrams = "{column.name}"'),
        ("remarks", f'[[brings]]\nkind = "doses"\ntext = "{column.name}"\nremarks_too = true'),
    ]
    return OpenPoint(
        "column_open",
        f"nothing says what column '{column.label}' holds (for example '{column.examples[0][:40]}'){word}",
        "give it a header that says so, or say so in a layout",
        tuple(reading for reading, _ in lines),
        tuple(line for _, line in lines),
    )


def _counts(column: ColumnProfile) -> OpenPoint:
    return OpenPoint(
        "container_counts", f"column '{column.label}' counts what is in a container, which is no glucose given",
        "log each count with: gramrise count", ("a count of a container",), ("no part for this column",),
    )  # fmt: skip


def _never(title: str) -> OpenPoint:
    return OpenPoint(
        "never_happened", f"the title '{title[:60]}' calls these rows planned, predicted or a test",
        "leave the table out, or take that word away if the rows did happen", ("they happened", "they did not"),
    )  # fmt: skip


def _another(title: str) -> OpenPoint:
    return OpenPoint(
        "of_another", f"the title '{title[:60]}' may say that these rows are another's, or not what was measured",
        "leave the table out, or take that word away if the rows are this person's and were measured",
        ("they are this person's, and were measured", "they are not"),
    )  # fmt: skip


def _several_kinds(kinds: list[ColumnProfile]) -> OpenPoint:
    named = " and ".join(f"'{column.label}'" for column in kinds)
    return OpenPoint(
        "kind_columns_open", f"columns {named} both name kinds of rows",
        "say under [[brings]] in a layout which counts",
        tuple(f"'{column.label}' says what a row is" for column in kinds),
        tuple(f'when = {{ column = "{column.name}", words = ["{column.examples[0]}"] }}' for column in kinds),
    )  # fmt: skip


def _proof(table: TextTable) -> RecognisedBy:
    """A draft that is kept recognises later files by the whole header, where there is one."""
    return RecognisedBy(header=tuple(dict.fromkeys(cell.strip() for cell in table.header if cell.strip())))


def _names(clock: Clock) -> set[str]:
    return {*clock.columns, clock.offset_column}


def _nothing_known(columns: list[ColumnProfile]) -> OpenPoint:
    labels = ", ".join(f"'{column.label}'" for column in columns)
    return OpenPoint(
        "no_meaning",
        f"nothing says what the columns {labels} hold" if columns else "it has no columns",
        "put a header over them, for readings: time, glucose (mg/dL) or (mmol/L); for glucose given: time, source, "
        "amount, or: time, grams",
    )


def _sketch(table: TextTable, clock: Clock, parts: list[Part], columns: list[ColumnProfile]) -> Layout:
    """A draft to be completed: what is known, and for the rest the columns by their place."""
    others = [column for column in columns if column.name not in _names(clock)]
    numbers = [column for column in others if column.holds == "number"] or others
    likely = next((column for column in numbers if column.quantity in GLUCOSE), numbers[0] if numbers else None)
    guess: list[Part] = parts or [Glucose(kind="readings", value=likely.name if likely else clock.columns[0])]
    if not parts and likely is not None and likely.quantity in {AMOUNT, "given"}:
        guess = [GlucoseGiven(kind="doses", amount=likely.name)]
    return Layout(
        name=RECOGNISED, about="A draft: complete it", recognised_by=_proof(table), clock=clock, brings=tuple(guess)
    )
