"""Tables whose rows are of several kinds, told apart by the words of one column."""

from gramrise.connectors.layout import Clock, Food, Glucose, Happening, Insulin, Part, When
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.column_profiles import ColumnProfile, meanings
from gramrise.intake.layouts.units import glucose_unit_in
from gramrise.intake.layouts.value_columns import usual_step

# In this order: 'glucose tablets' are given, whatever else the word says.
_KINDS = ("given", "finger", "sensor", "long_insulin", "insulin", "food", "activity", "note")


def parts_by_kind(
    kind: ColumnProfile,
    columns: list[ColumnProfile],
    table: TextTable,
    clock: Clock,
    context: ReadContext,
    evidence: Evidence,
) -> list[Part]:
    """One part for each kind of row whose word is known. A word nobody knows stays open."""
    words_of: dict[str, list[str]] = {}
    for word in kind.examples:
        words_of.setdefault(_kind_of(word, context), []).append(word)
    if not (words_of.keys() & {"given", "finger", "sensor", "glucose", "insulin", "food"}):
        return []
    values, united = _values(columns), _united(columns)
    if "glucose" in words_of and not _spaced_as_a_sensor(kind, words_of["glucose"], columns, table, clock, context):
        words_of.setdefault("", []).extend(words_of.pop("glucose"))
    evidence.open += [_unknown(kind.name, word, values, united) for word in words_of.pop("", [])]
    evidence.open += [_given(kind.name, word, values, context) for word in words_of.pop("given", [])]
    parts: list[Part] = []
    for which, words in words_of.items():
        part = _part(which, When(column=kind.name, words=tuple(words)), columns, context)
        if part is not None:
            evidence.prove(f"rows of kind {', '.join(words)} are {which}", f"the words of column '{kind.label}'")
            parts.append(part)
    return parts


def _values(columns: list[ColumnProfile]) -> str:
    """The table's column of values, as the lines to add name it."""
    numbers = [column for column in columns if column.holds == "number"]
    named = [column for column in numbers if column.meanings & {"value", "amount"}]
    return next((column.name for column in named or numbers), "VALUE")


def _block(kind: str, column: str, word: str, *lines: str) -> str:
    """A part of a layout as it is written there."""
    when = f'when = {{ column = "{column}", words = ["{word}"] }}'
    return "\n".join(["[[brings]]", f'kind = "{kind}"', when, *lines])


def _united(columns: list[ColumnProfile]) -> list[str]:
    """The line of a layout that names the column of units, if there is one."""
    return [f'unit_column = "{column.name}"' for column in columns if "unit" in column.meanings][:1]


def _unknown(column: str, word: str, values: str, united: list[str]) -> OpenPoint:
    lines = (f'value = "{values}"', *united)
    return OpenPoint(
        "kind_open",
        f"nothing says what rows of kind '{word}' are",
        "say so in a layout",
        ("a sensor's readings", "finger-sticks", "nothing to keep"),
        (
            _block("readings", column, word, *lines),
            _block("fingers", column, word, *lines),
            "no part with this word",
        ),
    )


def _given(column: str, word: str, values: str, context: ReadContext) -> OpenPoint:
    """Glucose given among other rows: the word alone never says what its number counts."""
    sources = [source.name for source in context.person.sources_now()]
    counted = [
        (
            f"glucose given: {name}, in {unit}",
            _block("doses", column, word, f'amount = "{values}"', f'source_is = "{name}"'),
        )
        for name, unit in ((source.name, source.unit.value) for source in context.person.sources_now())
    ]
    offered = [
        *counted,
        ("glucose given, in grams", _block("doses", column, word, f'grams = "{values}"')),
        ("nothing to keep", "no part with this word"),
    ]
    return OpenPoint(
        "kind_open",
        f"nothing says what the numbers of '{word}' count",
        "say so in a layout" + ("" if sources else ", once its source is stated with gramrise person source"),
        tuple(reading for reading, _ in offered),
        tuple(line for _, line in offered),
    )


def _spaced_as_a_sensor(
    kind: ColumnProfile,
    words: list[str],
    columns: list[ColumnProfile],
    table: TextTable,
    clock: Clock,
    context: ReadContext,
) -> bool:
    """Whether rows that only say 'glucose' follow each other as closely as a sensor's; finger-sticks do not."""
    mine = table.cells[str(kind.at)].fill_null("").str.strip_chars().is_in(words)
    rows = table.with_cells(table.cells.filter(mine))
    numbers = [column for column in columns if column.holds == "number"]
    steps = [usual_step(rows, clock, column, context) for column in numbers]
    usual = min((step for step in steps if step is not None), default=None)
    return usual is not None and usual <= context.settings.most_regular_step_minutes


def _kind_of(word: str, context: ReadContext) -> str:
    means = meanings(word, context.words)
    for which in _KINDS:
        if which in means:
            return which
    return "glucose" if "glucose" in means else ""


def _part(which: str, when: When, columns: list[ColumnProfile], context: ReadContext) -> Part | None:
    """A part for one kind of row: its own column, else the table's one column of values."""
    if which in {"long_insulin", "note"}:
        return None
    if which == "activity":
        return Happening(kind="activity", when=when)
    wanted = {"finger": "glucose", "sensor": "glucose"}.get(which, which)
    numbers = [column for column in columns if column.holds == "number"]
    own = [column for column in numbers if wanted in column.meanings]
    if wanted == "glucose":
        own = own or [column for column in numbers if glucose_unit_in(column.label, context.words)]
    chosen = own or [column for column in numbers if "value" in column.meanings or "amount" in column.meanings]
    if len(chosen) != 1:
        return None
    name = chosen[0].name
    unit = next((column.name for column in columns if "unit" in column.meanings), "")
    if wanted == "glucose":
        return Glucose(kind="fingers" if which == "finger" else "readings", value=name, when=when, unit_column=unit)
    if which == "insulin":
        return Insulin(kind="insulin", units=name, when=when)
    return Food(kind="food", grams=name, when=when, amount_known=chosen[0].in_grams)
