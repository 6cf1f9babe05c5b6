"""What the columns beside the time bring: glucose, glucose given, insulin, food, weights, remarks."""

from itertools import combinations

import polars as pl

from gramrise.connectors.layout import Clock, Food, Glucose, GlucoseGiven, Happening, Insulin, Part, Weight, When
from gramrise.intake.cells import UNIT_BEHIND, source_named
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.labels import GLUCOSE, NOTE, VALUE, long_in_titles, titled_quantities, unit_of_cell
from gramrise.intake.layouts.column_profiles import ColumnProfile
from gramrise.intake.layouts.given_columns import amounts_without_header, given_parts
from gramrise.intake.layouts.glucose_columns import one_column_a_kind
from gramrise.intake.layouts.row_columns import units_in
from gramrise.intake.layouts.spacing import usual_step

_GLUCOSE_UNITS = {"mg_dl", "mmol_l"}


def parts_of_columns(
    table: TextTable, clock: Clock, columns: list[ColumnProfile], context: ReadContext, evidence: Evidence
) -> list[Part]:
    """One part for each column that is understood. What no part uses is accounted for by the caller."""
    titled = titled_quantities(table, context.words)
    parts: list[Part] = given_parts(columns, titled, context, evidence)
    taken = {name for part in parts if isinstance(part, GlucoseGiven) for name in _named(part)}
    unit_column = _unit_column(columns, context, evidence)
    in_grams = _grams_beside(table, columns, context, evidence)
    glucose = [column for column in columns if column.holds == "number" and column.quantity in GLUCOSE]
    for column in columns:
        if column.name in taken:
            continue
        if column in glucose and "after" in column.meanings and len(glucose) > 1:
            evidence.prove(f"'{column.label}' is passed over", "it holds values of another time than the row's")
        elif column.holds == "text":
            parts += _worded(column, evidence)
        elif column.holds == "number":
            parts += _numbered(table, clock, column, unit_column, titled, context, evidence, in_grams, columns)
    _check_rivals(table, parts, evidence)
    _check_insulin_of_a_source(columns, parts, context, evidence)
    parts = one_column_a_kind(table, parts, evidence)
    if not parts and not evidence.open and not table.header:
        parts += amounts_without_header(columns, context, evidence)
    return parts


def _named(part: GlucoseGiven) -> list[str]:
    return [name for name in (part.grams, part.amount, part.text, part.source, part.form) if name]


def _unit_column(columns: list[ColumnProfile], context: ReadContext, evidence: Evidence) -> ColumnProfile | None:
    """The column in which each row says its glucose unit. One that says other units, too, stays open."""
    for column in columns:
        units = set(units_in(column, context.words).values())
        if units & _GLUCOSE_UNITS and not units <= _GLUCOSE_UNITS:
            evidence.open.append(OpenPoint(
                "kind_open", f"column '{column.label}' names units of different things, and no column names the things",
                "add a column that says what each row is",
            ))  # fmt: skip
        elif units & _GLUCOSE_UNITS:
            return column
    return None


def _grams_beside(table: TextTable, columns: list[ColumnProfile], context: ReadContext, evidence: Evidence) -> bool:
    """Whether a column of units says that the carbohydrate of every row is in grams; other units stay open."""
    carbs = [column for column in columns if column.holds == "number" and "carbs" in column.meanings]
    united = [(column, set(found.values())) for column in columns if (found := units_in(column, context.words))]
    if not carbs or any(column.said.units for column in carbs) or not united:
        return False
    beside, units = united[0]
    if units == {"gram"}:
        blank = [pl.col(str(beside.at)).fill_null("").str.strip_chars() == ""]
        filled = pl.any_horizontal(pl.col(str(one.at)).fill_null("").str.strip_chars() != "" for one in carbs)
        return table.cells.filter(filled & blank[0]).is_empty()
    if not units & _GLUCOSE_UNITS:
        evidence.open.append(OpenPoint(
            "food_unit_open", f"column '{beside.label}' names units beside '{carbs[0].label}' that are not all grams",
            "write the grams of carbohydrate, and g beside each or in the header",
        ))  # fmt: skip
    return False


def _worded(column: ColumnProfile, evidence: Evidence) -> list[Part]:
    """What a column of words brings."""
    if column.quantity == "food":
        evidence.prove(f"'{column.label}' is food in words", "its header says so; grams unknown")
        return [Food(kind="food", note=column.name)]
    if column.quantity in {NOTE, "activity"} or ("note" in column.meanings and not column.said.unknown):
        evidence.prove(f"'{column.label}' holds remarks", "its header says so; glucose given may be among them")
        return [GlucoseGiven(kind="doses", text=column.name, remarks_too=True)]
    return []


def _numbered(
    table: TextTable,
    clock: Clock,
    column: ColumnProfile,
    unit_column: ColumnProfile | None,
    titled: set[str],
    context: ReadContext,
    evidence: Evidence,
    in_grams: bool,
    columns: list[ColumnProfile],
) -> list[Part]:
    """What a column of numbers brings, by its header, its title, or the units beside its numbers."""
    which, why = column.quantity, "its header says so"
    if which == VALUE:
        which, why = _of_value(column, unit_column, titled)
    if which in GLUCOSE:
        _check_units_beside(table, column, unit_column, context, evidence)
        return _glucose(table, clock, column, which, unit_column.name if unit_column else "", context, evidence)
    if which == "insulin":
        long = "" if "rapid" in column.meanings else long_in_titles(table, context.words)
        return _insulin(column, long, why, evidence)
    if which == "food" and (column.meanings & {"carbs", "portion"} or column.said.unit == "gram"):
        known = "carbs" in column.meanings and (column.said.unit == "gram" or in_grams)
        evidence.prove(f"'{column.label}' is food", why + ("" if known else "; grams of carbohydrate unknown"))
        return [Food(kind="food", grams=column.name, amount_known=known)]
    if which == "weight":
        evidence.prove(f"'{column.label}' is body weight", why)
        return _weight(table, column, columns, context, evidence)
    if which == "activity":
        said = tuple(cell for cell in column.examples if cell.strip("0.,"))
        evidence.prove(f"'{column.label}' is activity", why + "; how much is not kept")
        return [Happening(kind="activity", when=When(column=column.name, words=said))] if said else []
    return []


def _weight(
    table: TextTable, column: ColumnProfile, columns: list[ColumnProfile], context: ReadContext, evidence: Evidence
) -> list[Part]:
    """Weights in the one unit that the header, or a column of units beside them, names."""
    beside = None if column.said.units else next((one for one in columns if _names_weights(one, context)), None)
    if beside is None:
        return [Weight(kind="weights", value=column.name)]
    united = table.cells.filter(pl.col(str(column.at)).fill_null("").str.strip_chars() != "")
    cells = united[str(beside.at)].fill_null("").str.strip_chars().unique().to_list()
    units = {unit_of_cell(cell, context.words) for cell in cells}
    if len(units) == 1 and units <= {"kg", "lb"}:
        evidence.prove(f"'{beside.label}' says the unit of the weights", f"its cells are '{cells[0]}'")
        return [Weight(kind="weights", value=column.name, unit=units.pop())]  # type: ignore[arg-type]
    evidence.open.append(OpenPoint(
        "weight_units_mixed", f"column '{beside.label}' names several units of '{column.label}', or none in some rows",
        "write all weights in kg, or all in lb, and the unit into the header",
    ))  # fmt: skip
    return [Weight(kind="weights", value=column.name)]


def _names_weights(column: ColumnProfile, context: ReadContext) -> bool:
    return bool({"kg", "lb"} & set(units_in(column, context.words).values()))


def _of_value(column: ColumnProfile, unit_column: ColumnProfile | None, titled: set[str]) -> tuple[str, str]:
    """What a column that is only headed 'value' holds."""
    if unit_column is not None:
        return "glucose", f"column '{unit_column.label}' names units of glucose"
    if all(pl.Series(column.examples).str.contains(UNIT_BEHIND)):
        return "glucose", "its cells name units of glucose"
    if len(titled) == 1 and (found := next(iter(titled))) != "given":
        return found, "the title above the table says so"
    return "", ""


def _insulin(column: ColumnProfile, long: str, why: str, evidence: Evidence) -> list[Part]:
    if long:
        evidence.open.append(OpenPoint(
            "insulin_open", f"'{long[:60]}' speaks of long-acting insulin, the column '{column.label}' only of insulin",
            "say so under [[brings]] in a layout, or leave the table out: long-acting insulin is not kept",
            ("it is rapid insulin", "it is long-acting insulin"),
            (f'kind = "insulin"\nunits = "{column.name}"', "no part for this column"),
        ))  # fmt: skip
    evidence.prove(f"'{column.label}' is rapid insulin in units", why)
    return [Insulin(kind="insulin", units=column.name)]


def _check_units_beside(
    table: TextTable,
    column: ColumnProfile,
    unit_column: ColumnProfile | None,
    context: ReadContext,
    evidence: Evidence,
) -> None:
    """Values whose cell of units is blank have no unit, unless the header names one."""
    if unit_column is None:
        return
    if stated := column.said.units & _GLUCOSE_UNITS:
        _check_units_agree(table, column, unit_column, stated, context, evidence)
        return
    value, unit = (pl.col(str(one.at)).fill_null("").str.strip_chars() for one in (column, unit_column))
    blank = table.cells.filter((value != "") & (unit == "")).height
    if blank:
        evidence.open.append(OpenPoint(
            "unit_open", f"{blank} values of '{column.label}' have no unit beside them in '{unit_column.label}'",
            "write the unit beside each value, or into the header",
            ("the values are mg/dL", "the values are mmol/L"), ('unit = "mg/dL"', 'unit = "mmol/L"'),
        ))  # fmt: skip


def _check_units_agree(
    table: TextTable,
    column: ColumnProfile,
    unit_column: ColumnProfile,
    stated: frozenset[str],
    context: ReadContext,
    evidence: Evidence,
) -> None:
    """A header that says one unit beside cells that say another: one of the two is wrong."""
    filled = table.cells.filter(pl.col(str(column.at)).fill_null("").str.strip_chars() != "")
    cells = filled[str(unit_column.at)].fill_null("").str.strip_chars().unique().to_list()
    beside = {unit_of_cell(cell, context.words) for cell in cells if cell} & _GLUCOSE_UNITS
    if beside - stated:
        evidence.open.append(OpenPoint(
            "unit_contradicted", f"'{column.label}' says one unit in its header, and '{unit_column.label}' another",
            "leave the unit in one of the two places, or say it under [[brings]] in a layout",
            ("the values are mg/dL", "the values are mmol/L"), ('unit = "mg/dL"', 'unit = "mmol/L"'),
        ))  # fmt: skip


def _check_insulin_of_a_source(
    columns: list[ColumnProfile], parts: list[Part], context: ReadContext, evidence: Evidence
) -> None:
    """Units beside the name of a source of glucose: the unit or the name is wrong."""
    sources = context.person.sources_now()
    for column in columns:
        named = [text for text in column.examples if column.holds == "text" and source_named(text, sources)]
        if named and "note" not in column.meanings and any(isinstance(part, Insulin) for part in parts):
            evidence.open.append(OpenPoint(
                "insulin_open", f"column '{column.label}' names '{named[0]}', which is glucose, and units of insulin",
                "write the unit in which the glucose was counted: pieces, mL or g",
            ))  # fmt: skip


def _check_rivals(table: TextTable, parts: list[Part], evidence: Evidence) -> None:
    """Two columns of insulin, or of food, in one row may be parts of one amount, or one amount twice."""
    for kind, key in (("insulin", "units"), ("food", "grams"), ("weights", "value")):
        names = [getattr(part, key) for part in parts if part.kind == kind and part.when is None and getattr(part, key)]
        for one, other in combinations(names, 2):
            if _both_filled(table, one, other):
                evidence.open.append(OpenPoint(
                    "columns_open", f"rows fill both '{one}' and '{other}'; nothing says whether they add up",
                    "say in a layout which counts",
                    (f"'{one}' alone", f"'{other}' alone", "both, they add up"),
                    (f'{key} = "{one}"', f'{key} = "{other}"', f'{key} = "{one}"\n{key} = "{other}"'),
                ))  # fmt: skip


def _both_filled(table: TextTable, one: str, other: str) -> bool:
    first, second = (table.column(name) for name in (one, other))
    if first is None or second is None:
        return False
    filled = [pl.col(at).fill_null("").str.contains("[1-9]") for at in (first, second)]
    return bool(table.cells.select((filled[0] & filled[1]).any()).item())


def _glucose(
    table: TextTable,
    clock: Clock,
    column: ColumnProfile,
    which: str,
    unit_column: str,
    context: ReadContext,
    evidence: Evidence,
) -> list[Part]:
    """A sensor's readings where a word or the spacing says so, finger-sticks where a word does; else open."""
    if which == "finger":
        evidence.prove(f"'{column.label}' holds finger-sticks", "its header says so")
        return [Glucose(kind="fingers", value=column.name, unit_column=unit_column)]
    if which == "sensor":
        evidence.prove(f"'{column.label}' holds a sensor's readings", "its header says so")
        return [Glucose(kind="readings", value=column.name, unit_column=unit_column)]
    step = usual_step(table, clock, column, context)
    if step is not None and step <= context.settings.most_regular_step_minutes:
        evidence.prove(f"'{column.label}' holds a sensor's readings", f"its rows are {step:.3g} minutes apart")
        return [Glucose(kind="readings", value=column.name, unit_column=unit_column)]
    evidence.open.append(OpenPoint(
        "sensor_or_finger", f"nothing says whether '{column.label}' holds a sensor's readings or finger-sticks",
        "say so under [[brings]] in a layout",
        ("a sensor's readings", "finger-sticks"), ('kind = "readings"', 'kind = "fingers"'),
    ))  # fmt: skip
    return [Glucose(kind="readings", value=column.name, unit_column=unit_column)]
