"""What the columns beside the time bring: glucose, glucose given, insulin, food, weights, remarks."""

import polars as pl

from gramrise.connectors.layout import Clock, Food, Glucose, GlucoseGiven, Insulin, Part, Weight
from gramrise.intake.cells import DateStyle, read_written_time, source_named, time_text
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.column_profiles import ColumnProfile, meanings
from gramrise.intake.layouts.day_order import prove_order
from gramrise.intake.layouts.glucose_columns import one_column_a_kind
from gramrise.intake.layouts.units import glucose_unit_in, weight_unit_in
from gramrise.intake.words import HeaderWords, folded, header_words

_NO_VALUES = {"person", "row_number", "offset", "kind", "source", "form", "unit", "not_itself"}
_UNIT_WORDS = {"mg", "dl", "mmol", "l"}
_STEPS_LOOKED_AT = 3000  # times whose spacing is looked at


def parts_of_columns(
    table: TextTable, clock: Clock, columns: list[ColumnProfile], context: ReadContext, evidence: Evidence
) -> list[Part]:
    """One part for each column that is understood; the others are named and passed over."""
    parts: list[Part] = []
    parts += _given(columns, context, evidence)
    taken = {name for part in parts if isinstance(part, GlucoseGiven) for name in _named(part)}
    unit_column = next((column.name for column in columns if "unit" in column.meanings), "")
    for column in columns:
        if column.name in taken or column.meanings & _NO_VALUES:
            continue
        parts += _part_of(table, clock, column, unit_column, context, evidence)
    parts = one_column_a_kind(table, parts, evidence)
    if not parts and not evidence.open and not table.header:
        parts += _without_header(table, clock, columns, context, evidence)
    return parts


def _named(part: GlucoseGiven) -> list[str]:
    return [name for name in (part.grams, part.amount, part.text, part.source, part.form) if name]


def _part_of(
    table: TextTable, clock: Clock, column: ColumnProfile, unit_column: str, context: ReadContext, evidence: Evidence
) -> list[Part]:
    means = column.meanings
    if column.holds == "text" and "food" in means:
        evidence.prove(f"'{column.label}' is food in words", "its header says so; grams unknown")
        return [Food(kind="food", note=column.name)]
    if column.holds == "text" and means & {"note", "activity"}:
        evidence.prove(f"'{column.label}' holds remarks", "its header says so; glucose given may be among them")
        return [GlucoseGiven(kind="doses", text=column.name, remarks_too=True)]
    if column.holds != "number" or "long_insulin" in means:
        return []
    if means & {"insulin", "insulin_unit", "food", "weight"} or _a_weight(column, context):
        return _beside_glucose(column, evidence)
    if means & {"glucose", "finger", "sensor"} or _a_bare_value(column, context):
        return _glucose(table, clock, column, unit_column, context, evidence)
    return []


def _a_bare_value(column: ColumnProfile, context: ReadContext) -> bool:
    """A header that says 'value', or nothing but a glucose unit: any other word might name another thing measured."""
    said = [word for word in header_words(column.label) if word not in _UNIT_WORDS]
    united = glucose_unit_in(column.label, context.words) is not None
    return (united or bool(said)) and all("value" in meanings(word, context.words) for word in said)


def _a_weight(column: ColumnProfile, context: ReadContext) -> bool:
    return weight_unit_in(column.label, context.words) is not None and "glucose" not in column.meanings


def _beside_glucose(column: ColumnProfile, evidence: Evidence) -> list[Part]:
    if column.meanings & {"insulin", "insulin_unit"}:
        evidence.prove(f"'{column.label}' is rapid insulin in units", "its header says so")
        return [Insulin(kind="insulin", units=column.name)]
    if "food" in column.meanings:
        evidence.prove(
            f"'{column.label}' is food", "its header says so" + ("" if column.in_grams else "; grams unknown")
        )
        return [Food(kind="food", grams=column.name, amount_known=column.in_grams)]
    evidence.prove(f"'{column.label}' is body weight", "its header says so")
    return [Weight(kind="weights", value=column.name)]


def _glucose(
    table: TextTable, clock: Clock, column: ColumnProfile, unit_column: str, context: ReadContext, evidence: Evidence
) -> list[Part]:
    """A sensor's readings where a word or the spacing says so, finger-sticks where a word does; else open."""
    if "finger" in column.meanings:
        evidence.prove(f"'{column.label}' holds finger-sticks", "its header says so")
        return [Glucose(kind="fingers", value=column.name, unit_column=unit_column)]
    if "sensor" in column.meanings:
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


def _given(columns: list[ColumnProfile], context: ReadContext, evidence: Evidence) -> list[Part]:
    """Glucose given: grams, an amount beside a source, or amounts in words."""
    numbers = [column for column in columns if column.holds in {"number", "text"}]
    source = next((column.name for column in columns if "source" in column.meanings), "")
    form = next((column.name for column in columns if "form" in column.meanings), "")
    parts: list[Part] = []
    for column in numbers:
        means = column.meanings
        other = means & {"food", "insulin", "insulin_unit", "weight", "long_insulin"}
        if other or "not_itself" in means:
            continue
        if column.holds == "number" and _in_grams(column):
            evidence.prove(f"'{column.label}' is glucose given, in grams", "its header says so")
            parts.append(GlucoseGiven(kind="doses", grams=column.name, form=form))
        elif means & {"amount", "given", "dose"}:
            parts += _amount(column, columns, source, form, context, evidence)
    return parts


def _in_grams(column: ColumnProfile) -> bool:
    return "grams" in column.meanings or (
        column.in_grams and bool(column.meanings & {"glucose", "given", "dose", "amount"})
    )


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


def _without_header(
    table: TextTable, clock: Clock, columns: list[ColumnProfile], context: ReadContext, evidence: Evidence
) -> list[Part]:
    """No header: one column of numbers at a sensor's spacing, enough to prove their unit; or amounts in words."""
    numbers = [column for column in columns if column.holds == "number" and not _counts_rows(table, column)]
    if len(numbers) == 1:
        step = usual_step(table, clock, numbers[0], context)
        enough = numbers[0].filled >= context.settings.values_that_prove_a_unit
        if enough and step is not None and step <= context.settings.most_regular_step_minutes:
            evidence.prove(
                f"{numbers[0].label} holds a sensor's readings", f"{numbers[0].filled} values {step:.3g} min apart"
            )
            return [Glucose(kind="readings", value=numbers[0].name)]
    texts = [
        column for column in columns if column.holds == "text" and amounts_in_words(column.examples, context.words)
    ]
    if not numbers and len(texts) == 1:
        evidence.prove(f"{texts[0].label} is glucose given", f"amounts such as '{texts[0].examples[0]}'")
        return [GlucoseGiven(kind="doses", text=texts[0].name)]
    return []


def _counts_rows(table: TextTable, column: ColumnProfile) -> bool:
    """1, 2, 3 ...: the rows' own numbers."""
    numbers = table.cells[str(column.at)].cast(pl.Int64, strict=False).drop_nulls()
    return numbers.len() > 2 and bool((numbers.diff().drop_nulls() == 1).all())
