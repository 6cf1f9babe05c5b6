"""Tables whose rows are of several kinds, told apart by the words of one column."""

import polars as pl

from gramrise.connectors.layout import Clock, Food, Glucose, GlucoseGiven, Happening, Insulin, Part, Weight, When
from gramrise.intake.cells import source_named
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.labels import (
    AMOUNT,
    NOTE,
    NOTHING,
    UNKNOWN,
    VALUE,
    quantity_of,
    read_label,
    titled_quantities,
    unit_of_cell,
)
from gramrise.intake.layouts.amount_headers import is_running_sum, weighs_the_product
from gramrise.intake.layouts.column_profiles import ColumnProfile
from gramrise.intake.layouts.row_columns import units_in
from gramrise.intake.layouts.spacing import usual_step
from gramrise.intake.layouts.units import UNIT_NAMES

_OWN = {"finger": ("finger", "glucose"), "sensor": ("sensor", "glucose"), "glucose": ("glucose", "sensor", "finger")}
# Units in which rows of a kind may be.
_UNITS = {
    "finger": {"mg_dl", "mmol_l"}, "sensor": {"mg_dl", "mmol_l"}, "glucose": {"mg_dl", "mmol_l"},
    "insulin": {"insulin"}, "food": {"gram"}, "weight": {"kg", "lb"},
}  # fmt: skip


class KindRows:
    """The kinds of one table, and the columns from which their values are read."""

    def __init__(
        self, kind: ColumnProfile, columns: list[ColumnProfile], table: TextTable, clock: Clock, context: ReadContext
    ) -> None:
        self.kind, self.columns, self.table, self.clock, self.context = kind, columns, table, clock, context
        self.numbers = [column for column in columns if column.holds == "number"]
        united = [column for column in columns if column.holds == "text" and "unit" in column.meanings]
        self.unit = next((column for column in columns if units_in(column, context.words)), (*united, None)[0])
        self.titled = titled_quantities(table, context.words)

    def words_of(self) -> dict[str, list[str]]:
        """The words of the kind column by what they mean."""
        found: dict[str, list[str]] = {}
        for word in self.kind.examples:
            found.setdefault(self._meaning(word), []).append(word)
        return found

    def _meaning(self, word: str) -> str:
        label = read_label(word, self.context.words)
        which, header = quantity_of(label), self.kind.meanings
        if which in {UNKNOWN, VALUE, AMOUNT} and not label.unknown and header & {"insulin", "glucose", "food"}:
            which = quantity_of(read_label(f"{self.kind.label} {word}", self.context.words))  # 'Insulin type': 'rapid'
        return UNKNOWN if which in {VALUE, AMOUNT} else which

    def value_of(self, which: str) -> ColumnProfile | None:
        """The one column of numbers that rows of a kind fill."""
        own = [column for column in self.numbers if column.quantity in _OWN.get(which, (which,))]
        plain = [column for column in self.numbers if column.quantity in {VALUE, AMOUNT}]
        chosen = own or plain or [column for column in self.numbers if column.quantity == "glucose" and
                                  "value" in column.meanings and not column.meanings & {"glucose"}]  # fmt: skip
        filled = [column for column in chosen if self._filled(which, column)] if len(chosen) > 1 else chosen
        return filled[0] if len(filled) == 1 else None

    def _filled(self, which: str, column: ColumnProfile) -> bool:
        rows = self._rows(self.words_of().get(which, []))
        return bool((rows[str(column.at)].fill_null("").str.strip_chars() != "").any())

    def _rows(self, words: list[str]) -> pl.DataFrame:
        mine = self.table.cells[str(self.kind.at)].fill_null("").str.strip_chars().is_in(words)
        return self.table.cells.filter(mine)

    def units_of(self, words: list[str]) -> set[str]:
        """The units that rows with these words name: in the kind's own word, or in the column of units ('' blank)."""
        own = {read_label(word, self.context.words).unit for word in words} - {""}
        if own or self.unit is None:
            return own
        cells = self._rows(words)[str(self.unit.at)].fill_null("").str.strip_chars().unique().to_list()
        return {(unit_of_cell(cell, self.context.words) or cell) if cell else "" for cell in cells}

    def spaced_as_a_sensor(self, words: list[str]) -> bool:
        """Whether rows that only say 'glucose' follow each other as closely as a sensor's; finger-sticks do not."""
        step = usual_step(self.table.with_cells(self._rows(words)), self.clock, self.kind, self.context)
        return step is not None and step <= self.context.settings.most_regular_step_minutes


def parts_by_kind(
    kind: ColumnProfile,
    columns: list[ColumnProfile],
    table: TextTable,
    clock: Clock,
    context: ReadContext,
    evidence: Evidence,
) -> list[Part]:
    """One part for each kind of row whose word is known. A word nobody knows stays open."""
    rows = KindRows(kind, columns, table, clock, context)
    words_of = rows.words_of()
    if kind.different > len(kind.examples):
        words_of.setdefault(UNKNOWN, []).append(f"{kind.examples[0]} ... ({kind.different} words)")
    if "glucose" in words_of and not rows.spaced_as_a_sensor(words_of["glucose"]):
        words_of.setdefault(UNKNOWN, []).extend(words_of.pop("glucose"))
    united = [f'unit_column = "{column.name}"' for column in [rows.unit] if column is not None]
    values = _values(rows.numbers)
    evidence.open += [_unknown(kind.name, word, values, united, context) for word in words_of.pop(UNKNOWN, [])]
    parts, unsaid = _of_sources(rows, words_of.pop("given", []), "food" in words_of, evidence)
    evidence.open += [_given(kind.name, word, values, context) for word in unsaid]
    for passed in (NOTHING, "long_insulin"):
        if passed in words_of:
            named = ", ".join(words_of.pop(passed))
            evidence.prove(f"rows of kind {named} are passed over", "their words say that nothing of them is kept")
    for which, words in words_of.items():
        part = _part(which, words, rows, evidence)
        if part is not None:
            evidence.prove(f"rows of kind {', '.join(words)} bring {which}", f"the words of column '{kind.label}'")
            parts.append(part)
    return parts


def _of_sources(
    rows: KindRows, words: list[str], beside_food: bool, evidence: Evidence
) -> tuple[list[Part], list[str]]:
    """Rows whose word is the name of a source: amounts of it, where one column holds numbers. And the other words.

    Beside rows of food a number may be grams of carbohydrate.
    """
    named = {word: source_named(word, rows.context.person.sources_now()) for word in words}
    parts: list[Part] = []
    taught = rows.context.words
    other = any(is_running_sum(column, taught) or weighs_the_product(column, taught) for column in rows.numbers)
    if len(rows.numbers) != 1 or beside_food or other:
        return parts, words
    for word, source in named.items():
        if source is not None:
            evidence.prove(f"rows of kind {word} are glucose given", f"it is the name of the source '{source.name}'")
            when = When(column=rows.kind.name, words=(word,))
            united = rows.unit.name if rows.unit is not None else ""
            amount = rows.numbers[0].name
            parts.append(
                GlucoseGiven(kind="doses", amount=amount, source_is=source.name, unit_column=united, when=when)
            )
    return parts, [word for word, source in named.items() if source is None]


def _values(numbers: list[ColumnProfile]) -> str:
    """The table's column of values, as the lines to add name it."""
    named = [column for column in numbers if column.meanings & {"value", "amount"}]
    return next((column.name for column in named or numbers), "VALUE")


def _part(which: str, words: list[str], rows: KindRows, evidence: Evidence) -> Part | None:
    """A part for one kind of row: its own column, else the table's one column of values."""
    when = When(column=rows.kind.name, words=tuple(words))
    if which == NOTE:
        text = next((column.name for column in rows.columns if column.holds == "text"
                     and column.meanings & {"note", "value"}), "")  # fmt: skip
        return GlucoseGiven(kind="doses", text=text, remarks_too=True, when=when) if text else None
    if which == "activity":
        return Happening(kind="activity", when=when)
    column = rows.value_of(which)
    if column is None:
        evidence.open.append(_value_open(which, words, rows))
        return None
    units = rows.units_of(words) or ({column.said.unit} if column.said.unit else set())
    if not _fitting(which, units):
        evidence.open.append(_unit_open(which, words, units, column))
    return _of_column(which, column, when, units, rows)


def _fitting(which: str, units: set[str]) -> bool:
    """Whether all rows of a kind name a unit it may have, or none of them names any."""
    return not units or units == {""} or units <= _UNITS[which]


def _of_column(which: str, column: ColumnProfile, when: When, units: set[str], rows: KindRows) -> Part:
    unit = next(iter(units)) if len(units) == 1 else ""
    if which in _OWN:
        united = rows.unit.name if rows.unit is not None and unit == "" and units else ""
        given = UNIT_NAMES[unit] if unit in {"mg_dl", "mmol_l"} else "in header"
        kind = "fingers" if which == "finger" else "readings"
        return Glucose(kind=kind, value=column.name, when=when, unit_column=united, unit=given)  # type: ignore[arg-type]
    if which == "insulin":
        return Insulin(kind="insulin", units=column.name, when=when)
    if which == "weight":
        in_unit = unit if unit in {"kg", "lb"} else "in header"
        return Weight(kind="weights", value=column.name, when=when, unit=in_unit)  # type: ignore[arg-type]
    carbs = any("carbs" in read_label(word, rows.context.words).meanings for word in when.words)
    known = (units == {"gram"} and carbs) or (column.in_grams and "carbs" in column.meanings)
    return Food(kind="food", grams=column.name, when=when, amount_known=known)


def _block(kind: str, column: str, word: str, *lines: str) -> str:
    """A part of a layout as it is written there."""
    when = f'when = {{ column = "{column}", words = ["{word}"] }}'
    return "\n".join(["[[brings]]", f'kind = "{kind}"', when, *lines])


def _unknown(column: str, word: str, values: str, united: list[str], context: ReadContext) -> OpenPoint:
    lines = (f'value = "{values}"', *united)
    offered = [
        ("a sensor's readings", _block("readings", column, word, *lines)),
        ("finger-sticks", _block("fingers", column, word, *lines)),
        ("units of rapid insulin", _block("insulin", column, word, f'units = "{values}"')),
        ("grams of carbohydrate", _block("food", column, word, f'grams = "{values}"')),
        *_glucose_given(column, word, values, context),  # a family's own word for what they give
        ("nothing to keep", "no part with this word"),
    ]
    return OpenPoint(
        "kind_open",
        f"nothing says what rows of kind '{word}' are",
        "say so in a layout",
        tuple(reading for reading, _ in offered),
        tuple(line for _, line in offered),
    )


def _value_open(which: str, words: list[str], rows: KindRows) -> OpenPoint:
    numbers = rows.numbers or rows.columns
    key = {"insulin": "units", "food": "grams"}.get(which, "value")
    kind = {"finger": "fingers", "insulin": "insulin", "food": "food", "weight": "weights"}.get(which, "readings")
    return OpenPoint(
        "kind_value_open",
        f"nothing says which column holds the values of rows of kind '{words[0]}'",
        "say so in a layout",
        tuple(f"'{column.label}'" for column in numbers),
        tuple(_block(kind, rows.kind.name, words[0], f'{key} = "{column.name}"') for column in numbers),
    )


def _unit_open(which: str, words: list[str], units: set[str], column: ColumnProfile) -> OpenPoint:
    said = " and ".join(sorted(unit.replace("_", "/") or "none" for unit in units))
    return OpenPoint(
        "kind_unit_open",
        f"rows of kind '{words[0]}' are in units that do not fit: {said}",
        "mend the units in the file, or say under [[brings]] in a layout what they are",
        ("the values are mg/dL", "the values are mmol/L") if which in _OWN else ("they are what the kind says",),
        ('unit = "mg/dL"', 'unit = "mmol/L"') if which in _OWN else (f'value = "{column.name}"',),
    )


def _given(column: str, word: str, values: str, context: ReadContext) -> OpenPoint:
    """Glucose given among other rows: the word alone never says what its number counts."""
    sources = context.person.sources_now()
    offered = [*_glucose_given(column, word, values, context), ("nothing to keep", "no part with this word")]
    return OpenPoint(
        "kind_open",
        f"nothing says what the numbers of '{word}' count",
        "say so in a layout" + ("" if sources else ", once its source is stated with gramrise person source"),
        tuple(reading for reading, _ in offered),
        tuple(line for _, line in offered),
    )


def _glucose_given(column: str, word: str, values: str, context: ReadContext) -> list[tuple[str, str]]:
    """What the numbers of a word count if glucose was given: pieces or mL of each source, or grams; with the lines."""
    counted = [
        (
            f"glucose given: {source.name}, in {source.unit.value}",
            _block("doses", column, word, f'amount = "{values}"', f'source_is = "{source.name}"'),
        )
        for source in context.person.sources_now()
    ]
    return [*counted, ("glucose given, in grams", _block("doses", column, word, f'grams = "{values}"'))]
