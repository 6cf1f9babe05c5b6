"""What the columns beside the time bring: glucose, glucose given, insulin, food, weights, remarks."""

from itertools import combinations

import polars as pl

from gramrise.connectors.layout import Clock, Food, Glucose, GlucoseGiven, Happening, Insulin, Part, Weight, When
from gramrise.intake.cells import UNIT_BEHIND, DateStyle, form_named, read_written_time, source_named, time_text
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.column_profiles import ColumnProfile
from gramrise.intake.layouts.day_order import prove_order
from gramrise.intake.layouts.glucose_columns import one_column_a_kind
from gramrise.intake.layouts.quantities import AMOUNT, GLUCOSE, NOTE, VALUE
from gramrise.intake.layouts.row_columns import units_in
from gramrise.intake.layouts.titles import titled_quantities
from gramrise.intake.words import HeaderWords, folded

_STEPS_LOOKED_AT = 3000  # times whose spacing is looked at
_GLUCOSE_UNITS = {"mg_dl", "mmol_l"}


def parts_of_columns(
    table: TextTable, clock: Clock, columns: list[ColumnProfile], context: ReadContext, evidence: Evidence
) -> list[Part]:
    """One part for each column that is understood. What no part uses is accounted for by the caller."""
    titled = titled_quantities(table, context.words)
    parts: list[Part] = _given(columns, titled, context, evidence)
    taken = {name for part in parts if isinstance(part, GlucoseGiven) for name in _named(part)}
    unit_column = _unit_column(columns, context, evidence)
    glucose = [column for column in columns if column.holds == "number" and column.quantity in GLUCOSE]
    for column in columns:
        if column.name in taken:
            continue
        if column in glucose and "after" in column.meanings and len(glucose) > 1:
            evidence.prove(f"'{column.label}' is passed over", "it holds values of another time than the row's")
        elif column.holds == "text":
            parts += _worded(column, evidence)
        elif column.holds == "number":
            parts += _numbered(table, clock, column, unit_column, titled, context, evidence)
    _check_rivals(table, parts, evidence)
    parts = one_column_a_kind(table, parts, evidence)
    if not parts and not evidence.open and not table.header:
        parts += _amounts_without_header(columns, context, evidence)
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
) -> list[Part]:
    """What a column of numbers brings, by its header, its title, or the units beside its numbers."""
    which, why = column.quantity, "its header says so"
    if which == VALUE:
        which, why = _of_value(column, unit_column, titled)
    if which in GLUCOSE:
        _check_units_beside(table, column, unit_column, evidence)
        return _glucose(table, clock, column, which, unit_column.name if unit_column else "", context, evidence)
    if which == "insulin":
        return _insulin(column, titled, why, evidence)
    if which == "food" and (column.meanings & {"carbs", "portion"} or column.said.unit == "gram"):
        known = "carbs" in column.meanings and column.said.unit == "gram"
        evidence.prove(f"'{column.label}' is food", why + ("" if known else "; grams of carbohydrate unknown"))
        return [Food(kind="food", grams=column.name, amount_known=known)]
    if which == "weight":
        evidence.prove(f"'{column.label}' is body weight", why)
        return [Weight(kind="weights", value=column.name)]
    if which == "activity":
        said = tuple(cell for cell in column.examples if cell.strip("0.,"))
        evidence.prove(f"'{column.label}' is activity", why + "; how much is not kept")
        return [Happening(kind="activity", when=When(column=column.name, words=said))] if said else []
    return []


def _of_value(column: ColumnProfile, unit_column: ColumnProfile | None, titled: set[str]) -> tuple[str, str]:
    """What a column that is only headed 'value' holds."""
    if unit_column is not None:
        return "glucose", f"column '{unit_column.label}' names units of glucose"
    if all(pl.Series(column.examples).str.contains(UNIT_BEHIND)):
        return "glucose", "its cells name units of glucose"
    if len(titled) == 1 and (found := next(iter(titled))) != "given":
        return found, "the title above the table says so"
    return "", ""


def _insulin(column: ColumnProfile, titled: set[str], why: str, evidence: Evidence) -> list[Part]:
    if "long_insulin" in titled:
        evidence.open.append(OpenPoint(
            "insulin_open", f"the title speaks of long-acting insulin, the column '{column.label}' only of insulin",
            "say so under [[brings]] in a layout, or leave the table out: long-acting insulin is not kept",
            ("it is rapid insulin", "it is long-acting insulin"),
            (f'kind = "insulin"\nunits = "{column.name}"', "no part for this column"),
        ))  # fmt: skip
    evidence.prove(f"'{column.label}' is rapid insulin in units", why)
    return [Insulin(kind="insulin", units=column.name)]


def _check_units_beside(
    table: TextTable, column: ColumnProfile, unit_column: ColumnProfile | None, evidence: Evidence
) -> None:
    """Values whose cell of units is blank have no unit, unless the header names one."""
    if unit_column is None or column.said.units & _GLUCOSE_UNITS:
        return
    value, unit = (pl.col(str(one.at)).fill_null("").str.strip_chars() for one in (column, unit_column))
    blank = table.cells.filter((value != "") & (unit == "")).height
    if blank:
        evidence.open.append(OpenPoint(
            "unit_open", f"{blank} values of '{column.label}' have no unit beside them in '{unit_column.label}'",
            "write the unit beside each value, or into the header",
            ("the values are mg/dL", "the values are mmol/L"), ('unit = "mg/dL"', 'unit = "mmol/L"'),
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


def usual_step(table: TextTable, clock: Clock, column: ColumnProfile, context: ReadContext) -> float | None:
    """Median minutes between neighbouring rows that have a value; None where times cannot be read yet."""
    cells = (
        table.cells.head(_STEPS_LOOKED_AT * 10)
        .filter(pl.col(str(column.at)).fill_null("") != "")
        .head(_STEPS_LOOKED_AT)
    )
    texts = time_text(table.with_cells(cells), clock)
    order = prove_order(texts, context.settings, context.words, context.now_utc)
    form = "dmy" if isinstance(order, OpenPoint) else order.form  # within a day every order gives the same steps
    if form.startswith("epoch"):
        numbers = texts.cast(pl.Float64, strict=False) / (60_000 if form == "epoch ms" else 60)
        steps = numbers.drop_nulls().diff().abs().drop_nulls()
    else:
        style = DateStyle(form, context.settings.latest_two_digit_year)
        read = [read_written_time(text, style, context.words) for text in texts.to_list()]
        local = pl.Series([moment.local for moment in read if moment is not None], dtype=pl.Datetime("us"))
        steps = local.diff().dt.total_seconds().abs().drop_nulls() / 60
    usual = steps.filter(steps > 0).median()
    return float(usual) if isinstance(usual, (int, float)) else None


def _given(columns: list[ColumnProfile], titled: set[str], context: ReadContext, evidence: Evidence) -> list[Part]:
    """Glucose given: grams, an amount beside a source, or amounts in words."""
    source = next((column.name for column in columns if _is_source(column)), "")
    form = next((column for column in columns if "form" in column.meanings and column.holds == "text"), None)
    parts: list[Part] = []
    for column in columns:
        if column.holds not in {"number", "text"} or column.quantity not in {"given", AMOUNT}:
            continue
        form_name = form.name if form is not None else ""
        if column.holds == "number" and column.in_grams:
            parts += _in_grams(column, columns, source, form, titled, context, evidence)
        else:
            parts += _amount(column, columns, source, form_name, context, evidence)
    return parts


def _is_source(column: ColumnProfile) -> bool:
    return "source" in column.meanings and column.holds == "text" and not column.said.unknown


def _in_grams(
    column: ColumnProfile,
    columns: list[ColumnProfile],
    source: str,
    form: ColumnProfile | None,
    titled: set[str],
    context: ReadContext,
    evidence: Evidence,
) -> list[Part]:
    """Grams are glucose where header, title, form or source say so, and nothing speaks of what food holds."""
    form_name = form.name if form is not None else ""
    named = next((other for other in columns if other.name == source), None)
    known = named is not None and all(source_named(text, context.person.sources_now()) for text in named.examples)
    formed = form is not None and all(form_named(text, context.words).value != "unknown" for text in form.examples)
    food = any(other.meanings & {"nutrition", "food", "carbs"} for other in columns)
    if (column.quantity == "given" or "given" in titled or formed or known) and not food:
        evidence.prove(f"'{column.label}' is glucose given, in grams", "its header and what stands beside it say so")
        return [GlucoseGiven(kind="doses", grams=column.name, form=form_name)]
    evidence.open.append(_kind_open(column, named, context))
    return []


def _amount(
    column: ColumnProfile,
    columns: list[ColumnProfile],
    source: str,
    form: str,
    context: ReadContext,
    evidence: Evidence,
) -> list[Part]:
    worded = amounts_in_words(column.examples, context.words)
    named = next((other for other in columns if other.name == source), None)
    sources = context.person.sources_now()
    if named is not None and any(source_named(text, sources) for text in named.examples):
        evidence.prove(f"'{column.label}' is glucose given", f"'{named.label}' names sources of this person")
        return [GlucoseGiven(kind="doses", amount=column.name, source=source, form=form)]
    if worded:
        evidence.prove(f"'{column.label}' is glucose given", f"amounts such as '{column.examples[0]}'")
        if named is not None and named is not column and named.holds == "text":
            evidence.prove(f"'{named.label}' says of what", "its header says so")
            return [GlucoseGiven(kind="doses", amount=column.name, source=source, form=form)]
        return [GlucoseGiven(kind="doses", text=column.name, form=form)]
    if "given" in column.meanings and "dose" not in column.meanings:
        evidence.prove(f"'{column.label}' is glucose given", "its header says so; what a bare number counts is asked")
        return [GlucoseGiven(kind="doses", text=column.name, form=form)]
    evidence.open.append(_kind_open(column, named, context))
    return []


def _kind_open(column: ColumnProfile, named: ColumnProfile | None, context: ReadContext) -> OpenPoint:
    """Numbers of something: grams, insulin, food, or amounts of what a column beside them names."""
    readings = ["glucose given, in grams", "units of insulin", "grams of carbohydrate"]
    lines = [f'kind = "doses"\ngrams = "{column.name}"', f'kind = "insulin"\nunits = "{column.name}"',
             f'kind = "food"\ngrams = "{column.name}"']  # fmt: skip
    mend = "say so under [[brings]] in a layout"
    if named is not None and named.holds == "text":
        word = named.examples[0]
        readings = [f"glucose given, amounts of what '{named.label}' names", *readings]
        lines = [f'kind = "doses"\namount = "{column.name}"\nsource = "{named.name}"', *lines]
        person = context.person.person_id
        mend = (
            f"if '{word}' is glucose, state its strength: gramrise person source {person} '{word}' --help; else {mend}"
        )
    return OpenPoint(
        "dose_kind_open",
        f"nothing says what the numbers under '{column.label}' are amounts of",
        mend,
        tuple(readings),
        tuple(lines),
    )


def amounts_in_words(texts: tuple[str, ...], words: HeaderWords) -> bool:
    """Whether most texts hold a number and a word for pieces, mL, grams or bottles."""
    units = {folded(word) for kind in ("piece", "ml", "gram", "bottle") for word in words.amounts[kind]}

    def worded(text: str) -> bool:
        plain = "".join(mark if mark.isalpha() else " " for mark in folded(text))
        return any(mark.isdigit() or mark in "½¼¾" for mark in text) and bool(units & set(plain.split()))

    return bool(texts) and sum(map(worded, texts)) * 2 > len(texts)


def _amounts_without_header(columns: list[ColumnProfile], context: ReadContext, evidence: Evidence) -> list[Part]:
    """No header: amounts in words say themselves what they are; numbers alone never do."""
    numbers = [column for column in columns if column.holds == "number"]
    texts = [
        column for column in columns if column.holds == "text" and amounts_in_words(column.examples, context.words)
    ]
    if not numbers and len(texts) == 1:
        evidence.prove(f"{texts[0].label} is glucose given", f"amounts such as '{texts[0].examples[0]}'")
        return [GlucoseGiven(kind="doses", text=texts[0].name)]
    return []
