"""A layout's open entries - how times are written, decimal mark, units - resolved from a table's own content."""

import re

import polars as pl

from gramrise.connectors.layout import (
    IN_HEADER,
    Clock,
    FileShape,
    Food,
    Glucose,
    GlucoseGiven,
    Insulin,
    Layout,
    Part,
    Weight,
)
from gramrise.domain.units import GlucoseUnit
from gramrise.intake.cells import (
    ANY_UNIT_BEHIND,
    UNIT_BEHIND,
    DateStyle,
    doubtful_offset,
    number_expression,
    read_written_time,
    time_text,
)
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.day_order import Order, half_day_open, in_dots, prove_order
from gramrise.intake.layouts.units import decimal_proved, unit_of_values, weight_unit_in
from gramrise.intake.problems import FileWaits
from gramrise.intake.words import folded

AUTO = "auto"
_SPELLED = {
    "dmy": re.compile(r"\b([dtj])\1?[./ -]mm?[./ -][yja]{2,4}\b"),
    "mdy": re.compile(r"\bmm?[./ -]([dtj])\1?[./ -][yja]{2,4}\b"),
}
ENOUGH_ROWS = 200_000  # rows looked at for what needs no more: a unit, what a column holds


def resolve_layout(table: TextTable, layout: Layout, context: ReadContext, evidence: Evidence) -> Layout:
    """The layout with its open entries filled in; those that stay open are named in `evidence.open`.

    raises  FileWaits where the table lacks a column the layout needs
    """
    clock = layout.clock
    assert clock is not None  # only layouts of tables are resolved
    _check_columns(table, layout)
    clock = _resolve_clock(table, clock, context, evidence)
    file = _resolve_numbers(table, layout, evidence)
    parts = tuple(_resolve_part(table, part, file, context, evidence) for part in layout.brings)
    return layout.model_copy(update={"clock": clock, "file": file, "brings": parts})


def _check_columns(table: TextTable, layout: Layout) -> None:
    clock = layout.clock
    assert clock is not None  # as above
    needed = [*clock.columns, clock.offset_column]
    for part in layout.brings:
        needed += [part.when.column if part.when else "", *number_columns(part)]
        if isinstance(part, GlucoseGiven):
            needed += [part.text, part.source]
    missing = [name for name in needed if name and table.column(name) is None]
    if missing:
        raise FileWaits(
            "column_missing",
            table.file,
            f"layout '{layout.name}' needs a column '{missing[0]}', which the table does not have",
            "choose another layout, or change the column's name in it",
        )


def number_columns(part: Part) -> list[str]:
    """The columns of a part that hold plain numbers."""
    if isinstance(part, Glucose | Weight):
        return [part.value]
    if isinstance(part, Insulin):
        return [part.units]
    if isinstance(part, Food):
        return [part.grams] if part.grams else []
    # An amount of pieces or mL is read as words are, each by itself: '2,5' and '1.5' may stand side by side.
    return [part.grams] if isinstance(part, GlucoseGiven) and part.grams else []


def columns_with_values(layout: Layout) -> list[str]:
    """The columns from which the values of a row are made: all that a layout names but its remarks and its clock."""
    keys = ("value", "unit_column", "grams", "amount", "source", "form", "units")
    named = [name for part in layout.brings for key in keys if (name := getattr(part, key, ""))]
    named += [part.when.column for part in layout.brings if part.when is not None]
    texts = [getattr(part, "text", "") for part in layout.brings if part.kind != "note"]
    return named + [text for text in texts if text]


def _resolve_clock(table: TextTable, clock: Clock, context: ReadContext, evidence: Evidence) -> Clock:
    if AUTO not in clock.formats:
        return clock
    texts = time_text(table, clock)
    doubtful = doubtful_offset(texts)
    if doubtful is not None:
        evidence.open.append(_span_or_offset(doubtful))
        return clock
    order = prove_order(texts, context.settings, context.words, context.now_utc)
    if isinstance(order, OpenPoint):
        order = _order_in_header(table, clock, order)
    if isinstance(order, OpenPoint):
        order = _order_of_dots(texts, order)
    if isinstance(order, OpenPoint):
        evidence.open.append(order)
        return clock
    evidence.prove(f"times are written as {order.form}", order.why)
    twice = _half_day(texts, order, context)
    if twice is not None:
        evidence.open.append(twice)
    formats = tuple(order.form if form == AUTO else form for form in clock.formats)
    return clock.model_copy(update={"formats": formats})


def _span_or_offset(text: str) -> OpenPoint:
    form = "ymd" if text[:4].isdigit() else "dmy"
    return OpenPoint(
        "span_or_offset", f"'{text}' may be a span of time, or a time and its offset from UTC",
        "write the begin of the span alone, or the offset behind seconds, as 07:30:00-08:00",
        ("the times are followed by their offset from UTC",), (f'formats = ["{form}"]',),
    )  # fmt: skip


def _order_in_header(table: TextTable, clock: Clock, point: OpenPoint) -> Order | OpenPoint:
    """Day or month first as a header cell spells it: 'Date (DD/MM/YYYY)', 'Datum (TT.MM.JJJJ)', 'Date (jj/mm/aaaa)'."""
    label = " ".join(table.label(table.column(name) or "0") for name in clock.columns).casefold()
    for form, spelled in _SPELLED.items():
        if point.code == "day_month_open" and spelled.search(label):
            return Order(form, f"the header '{label}' spells it so")
    return point


def _order_of_dots(texts: pl.Series, point: OpenPoint) -> Order | OpenPoint:
    """Days with dots and a year of four figures behind are day first in every locale of Unicode CLDR."""
    if point.code == "day_month_open" and in_dots(texts):
        return Order("dmy", "with dots, and the year behind, every language writes the day first")
    return point


def _half_day(texts: pl.Series, order: Order, context: ReadContext) -> OpenPoint | None:
    if order.form.startswith("epoch") or texts.is_empty():
        return None
    head = texts.head(5000)
    hours = head.str.extract(r"(?:^|\D)(\d{1,2})[:h]\d{2}").cast(pl.Int32, strict=False)
    if (hours > 12).any() or (hours == 0).any():
        return None
    style = DateStyle(order.form, context.settings.latest_two_digit_year)
    moments = [read_written_time(text, style, context.words) for text in head.to_list()]
    local = pl.Series([moment.local if moment else None for moment in moments], dtype=pl.Datetime("us"))
    return half_day_open(head, local, context.words)


def _resolve_numbers(table: TextTable, layout: Layout, evidence: Evidence) -> FileShape:
    file = layout.file
    if file.decimal != AUTO:
        return file
    if table.typed:
        return file.model_copy(update={"decimal": "."})
    columns = {table.column(name) for part in layout.brings for name in number_columns(part)}
    cells = [_without_unit(table.cells[column]) for column in sorted(filter(None, columns))]
    joined = pl.concat([column.rename("n") for column in cells]) if cells else pl.Series("n", [], dtype=pl.String)
    mark = decimal_proved(joined)
    if mark is None:
        example = joined.filter(joined.str.contains("[.,]").fill_null(False))[0].strip()
        written = "," if "," in example else "."
        evidence.open.append(OpenPoint(
            "decimal_open", f"the mark in '{example}' may part decimals or thousands",
            "say which under [file] in a layout",
            ("it parts decimals", "it parts thousands"), (f'decimal = "{written}"', f'thousands = "{written}"'),
        ))  # fmt: skip
        return file
    thousands = file.thousands or _thousands(joined, mark or ".")
    if mark:
        evidence.prove(f"'{mark}' parts decimals", f"numbers such as '{_example(joined, mark)}' leave nothing else")
    return file.model_copy(update={"decimal": mark or ".", "thousands": thousands})


def _without_unit(cells: pl.Series) -> pl.Series:
    """Cells in which a mark could part decimals or thousands, without a unit behind them."""
    marked = cells.filter(cells.str.contains("[.,' \u00a0\u202f]").fill_null(False))
    return marked.str.replace(ANY_UNIT_BEHIND, "")


def _example(cells: pl.Series, mark: str) -> str:
    return str(cells.filter(cells.str.contains(mark, literal=True).fill_null(False))[0]).strip()


def _thousands(cells: pl.Series, decimal: str) -> str:
    """The mark between groups of three, where one is used that is not the decimal mark."""
    text = cells.drop_nulls().str.strip_chars()
    for mark, pattern in ((",", ","), (".", r"\."), ("'", "'"), (" ", "[ \u00a0\u202f]")):
        if mark != decimal and text.str.contains(rf"^[+-]?\d{{1,3}}({pattern}\d{{3}})+([{decimal}]\d+)?$").any():
            return mark
    return ""


def _resolve_part(table: TextTable, part: Part, file: FileShape, context: ReadContext, evidence: Evidence) -> Part:
    if isinstance(part, Glucose) and part.unit == IN_HEADER:
        return _resolve_glucose(table, part, file, context, evidence)
    if isinstance(part, Weight) and part.unit == IN_HEADER:
        label = table.label(table.column(part.value) or "0")
        unit = weight_unit_in(label, context.words)
        if unit is None:
            evidence.open.append(OpenPoint(
                "weight_unit_open", f"nothing says in which unit the weights of '{label}' are",
                "write kg or lb into the header, or say it under [[brings]] in a layout",
                ("the weights are kg", "the weights are lb"), ('unit = "kg"', 'unit = "lb"'),
            ))  # fmt: skip
            return part
        evidence.prove(f"weights are in {unit}", f"the header '{label}' says so")
        return part.model_copy(update={"unit": unit})
    return part


def _resolve_glucose(
    table: TextTable, part: Glucose, file: FileShape, context: ReadContext, evidence: Evidence
) -> Glucose:
    column = table.column(part.value)
    assert column is not None  # held by _check_columns
    rows = rows_of(table, part)
    beside = table.column(part.unit_column) if part.unit_column else None
    if beside is not None:
        without = rows.filter((_trimmed(column) != "") & (_trimmed(beside) == ""))
        if not without.height:
            evidence.prove("each row says its unit", f"column '{part.unit_column}'")
            return part.model_copy(update={"unit": GlucoseUnit.MG_DL.value})
        rows = without  # a blank unit is the header's, and never mg/dL in silence
    cells = rows[column].fill_null("").str.strip_chars()
    own = cells.filter(cells.str.contains(r"[A-Za-z]"))
    own = own.filter(own.str.contains(UNIT_BEHIND))
    if own.len() and own.len() == cells.filter(cells.str.contains(r"^\d")).len():
        evidence.prove("each value says its unit", f"'{own[0]}'")
        return part.model_copy(update={"unit": GlucoseUnit.MG_DL.value})
    frame = cells.head(ENOUGH_ROWS).to_frame("v")
    decimal = file.decimal if file.decimal != AUTO else "."
    numbers = frame.select(number_expression("v", decimal, file.thousands)).to_series().drop_nulls()
    unit = unit_of_values(table.label(column), table.preamble, numbers, context.settings, context.words)
    if isinstance(unit, OpenPoint):
        evidence.open.append(unit)
        return part
    evidence.prove(f"the numbers of {table.label(column)} are in {unit[0].value}", unit[1])
    return part.model_copy(update={"unit": unit[0].value})


def _trimmed(at: str) -> pl.Expr:
    return pl.col(at).fill_null("").str.strip_chars()


def rows_of(table: TextTable, part: Glucose | Insulin) -> pl.DataFrame:
    """The rows of one kind, where a column tells kinds apart."""
    column = table.column(part.when.column) if part.when is not None and part.when.words else None
    if column is None or part.when is None:
        return table.cells
    wanted = {folded(word) for word in part.when.words}
    fitting = [text for text in table.cells[column].drop_nulls().unique().to_list() if folded(text) in wanted]
    return table.cells.filter(pl.col(column).is_in(fitting))
