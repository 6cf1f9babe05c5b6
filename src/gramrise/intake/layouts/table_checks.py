"""What a whole table gives away once its layout is known: one question for the file instead of hundreds of bad rows."""

import re

import polars as pl

from gramrise.connectors.layout import Clock, Glucose, Insulin, Layout
from gramrise.domain.units import GlucoseUnit
from gramrise.intake.cells import BEHIND, DateStyle, bare_among_offsets, read_written_time, time_text
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.labels import read_label
from gramrise.intake.layouts.inner_headings import heading_inside
from gramrise.intake.layouts.resolving import rows_of
from gramrise.intake.words import folded, header_key

# Our choices: a slip costs its row; from so many rows and such a share on it is how the file is written.
_MANY_ROWS, _MANY_SHARE = 3, 0.2
_SAMPLE = 400  # times that are looked at
_MOST_MMOL_L = 36.0  # as mmol/L the highest glucose there is; as mg/dL far below what a sensor shows
_LEAST_MG_DL = 40.0
_FRACTION = r"^\d{1,2}[.,]\d$"
# 'The clock was an hour slow': in the languages of the words that intake knows.
_CLOCK_OFF = re.compile(
    r"\b(clock|uhr|uhrzeit|horloge|reloj|orologio|klok|zegar|klocka\w*|relogio)\b.{0,60}"
    r"\b(slow|fast|wrong|off|ahead|behind|falsch|nach|vor|retard|avance|atrasad[oa]|adelantad[oa]|indietro|avanti"
    r"|achter|voor|spozni\w*|spieszy\w*|fel|efter|fore|errad[oa])\b"
)
_ORDERS = ("iso", "ymd", "dmy", "mdy")


def check_table(table: TextTable, layout: Layout, context: ReadContext, evidence: Evidence) -> None:
    """Adds open points for what the rows as a whole contradict. `layout` is resolved."""
    clock = layout.clock
    assert clock is not None  # only layouts of tables are checked
    found = [
        _header_again(table, context),
        heading_inside(table, clock, context),
        _clock_off(table),
        _too_wide(table),
        _decimal_beside(table, layout),
    ]
    if not evidence.open:
        found.append(_times_unread(table, layout, clock, context))
        found.append(_offsets_beside_none(table, clock, context))
    for part in layout.brings:
        if isinstance(part, Glucose) and part.floor is None and part.ceiling is None:
            found.append(_units_mixed(table, part, context))
        if isinstance(part, Insulin):
            found.append(_insulin_unlikely(table, part, context))
    evidence.open += [point for point in found if point is not None]


def _clock_off(table: TextTable) -> OpenPoint | None:
    """A line above that says the clock was wrong puts every time below it in doubt."""
    line = next((line for line in table.preamble if _CLOCK_OFF.search(folded(line)[:200])), "")
    if not line:
        return None
    return OpenPoint(
        "clock_off", f"the line '{line[:60]}' may say that the clock was wrong",
        "write the right times into the file, or take that line out where they are right",
        ("the times are right", "the clock was wrong"),
    )  # fmt: skip


def _header_again(table: TextTable, context: ReadContext) -> OpenPoint | None:
    """A header repeated further down with other units: the rows below it are other values."""
    keys = [key for key in table.keys if key]
    column = next((str(at) for at, key in enumerate(table.keys) if key and at < table.width), None)
    if column is None or len(keys) < 2:
        return None
    words = table.cells.filter(pl.col(column).fill_null("").str.contains(r"^\s*[\"']?\p{L}"))
    for cells in words.head(1000).iter_rows():
        row, *texts = cells
        filled = [text for text in texts if text and text.strip()]
        if [header_key(text) for text in filled] == keys and _units(filled, context) != _units(
            [cell for cell in table.header if cell.strip()], context
        ):
            return OpenPoint(
                "header_changes", f"row {row} is a header again, and names other units than the first",
                "cut the file in two there, each part with its own header",
            )  # fmt: skip
    return None


def _units(labels: list[str], context: ReadContext) -> list[frozenset[str]]:
    return [read_label(label, context.words).units for label in labels]


def _too_wide(table: TextTable) -> OpenPoint | None:
    """More cells than header cells in many rows: most often a decimal comma in a table parted by commas."""
    beyond = [str(at) for at in range(len(table.header), table.width)] if table.header else []
    if not beyond:
        return None
    wide = table.cells.filter(pl.any_horizontal(pl.col(at).fill_null("").str.strip_chars() != "" for at in beyond))
    return _commas(int(wide["row"][0])) if in_many_rows(wide.height, table.cells.height) else None


def _commas(row: int) -> OpenPoint:
    return OpenPoint(
        "decimal_comma",
        f"rows such as {row} have more cells than the header; commas may part decimals as well as cells",
        "export the table with semicolons between cells, or with a decimal point",
    )  # fmt: skip


def _decimal_beside(table: TextTable, layout: Layout) -> OpenPoint | None:
    """Single figures in the column behind a glucose value, where commas part the cells: its decimals."""
    if table.delimiter != "," or table.typed:
        return None
    for part in layout.brings:
        at = table.column(part.value) if isinstance(part, Glucose) and part.unit != GlucoseUnit.MG_DL.value else None
        behind = str(int(at) + 1) if at is not None else ""
        if at is None or behind not in table.cells.columns:
            continue
        values, beside = (table.cells[one].fill_null("").str.strip_chars() for one in (at, behind))
        split = values.str.contains(r"^\d{1,2}$") & beside.str.contains(r"^\d$")
        if in_many_rows(int(split.sum()), int((values != "").sum())):
            return _commas(int(table.cells["row"][0]))
    return None


def _times_unread(table: TextTable, layout: Layout, clock: Clock, context: ReadContext) -> OpenPoint | None:
    """Times of which many are not written as the others are, or as nothing that is known."""
    form = clock.formats[0]
    if len(clock.formats) > 1 or form not in _ORDERS:
        return None
    style = DateStyle("ymd" if form == "iso" else form, context.settings.latest_two_digit_year, strict=form == "iso")
    texts = time_text(table, clock)
    known = texts.filter(texts != "").head(_SAMPLE).to_list()
    read = [read_written_time(text, style, context.words) for text in known]
    days = sum(moment is not None and not moment.timed for moment in read)
    if any(part.kind != "weights" for part in layout.brings) and in_many_rows(days, len(known)):
        return OpenPoint(
            "no_time_of_day", f"{days} of the first {len(known)} rows have a day and no time of day",
            "add a column with the time of day",
        )  # fmt: skip
    unread = [text for text, moment in zip(known, read, strict=True) if moment is None]
    totals = {folded(word) for word in context.words.rows["total"]}
    unread = [text for text in unread if any(mark.isdigit() for mark in text) and folded(text) not in totals]
    if not in_many_rows(len(unread), len(known)):
        return None
    return OpenPoint(
        "times_unread", f"{len(unread)} of the first {len(known)} times, such as '{unread[0]}', cannot be read",
        "export the table with times as 2026-03-14 02:10, or describe them under [clock] in a layout",
    )  # fmt: skip


def _offsets_beside_none(table: TextTable, clock: Clock, context: ReadContext) -> OpenPoint | None:
    """Many times with an offset of another zone, and many without any: nothing says what those are in."""
    bare, others = bare_among_offsets(table, clock, context)
    if not in_many_rows(bare, bare + others) or not in_many_rows(others, bare + others):
        return None
    return OpenPoint(
        "offsets_mixed", f"{others} of its times have an offset from UTC, and {bare} have none",
        "export the table with the offset behind every time, as +02:00, or cut it into one file of each kind",
    )  # fmt: skip


def _units_mixed(table: TextTable, part: Glucose, context: ReadContext) -> OpenPoint | None:
    """Values of the other unit among those of a column, or many that are no glucose at all."""
    column = table.column(part.value)
    if column is None or part.unit_column or part.unit not in {GlucoseUnit.MG_DL.value, GlucoseUnit.MMOL_L.value}:
        return None
    cells = rows_of(table, part)
    texts = cells[column].fill_null("").str.strip_chars()
    texts = texts.filter(texts != "")
    numbers = texts.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    if part.unit == GlucoseUnit.MG_DL.value:
        fractions = texts.str.contains(_FRACTION)
        rare = fractions.sum() * 2 <= texts.len()
        other = int((fractions & (numbers < _MOST_MMOL_L) & (numbers >= context.settings.least_glucose_mg_dl)).sum())
        many = int((numbers < context.settings.least_glucose_mg_dl).sum())
        mixed = (rare and other > 0) or in_many_rows(many, texts.len())
    else:
        mixed = in_many_rows(int((numbers >= _LEAST_MG_DL).sum()), texts.len())
    return (
        _mixed(table.label(column), part.unit)
        if mixed
        else _values_unread(table.label(column), texts, numbers, context)
    )


def _insulin_unlikely(table: TextTable, part: Insulin, context: ReadContext) -> OpenPoint | None:
    """Many large amounts of insulin of a child: most often values of another table, below its header no more."""
    column, settings = table.column(part.units), context.settings
    weight = context.person.weights_kg.latest()
    if column is None or (weight is not None and weight >= settings.much_insulin_below_kg):
        return None
    texts = rows_of(table, part)[column].fill_null("").str.strip_chars().str.replace(BEHIND["insulin"], "")
    units = texts.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    many = int((units > settings.much_insulin_units).sum())
    if many < _MANY_ROWS:
        return None
    return OpenPoint(
        "insulin_unlikely",
        f"{many} of its amounts of insulin under '{table.label(column)}' are above {settings.much_insulin_units:g} "
        "units at once, which is not likely; they may be other values, under a header that is not theirs",
        "write above each block of rows the header that is its own; where the amounts are right, state the weight "
        "(gramrise person weigh), or more units under [intake] in gramrise.toml: much_insulin_units",
    )  # fmt: skip


def _mixed(label: str, unit: str) -> OpenPoint:
    return OpenPoint(
        "unit_mixed", f"'{label}' is in {unit}, and some of its values are in another unit",
        "export the table in one unit, or with the unit beside each value",
    )  # fmt: skip


def _values_unread(label: str, texts: pl.Series, numbers: pl.Series, context: ReadContext) -> OpenPoint | None:
    odd = texts.filter(numbers.is_null() & ~texts.str.contains(r"\d"))
    known = {folded(word) for kind in ("below", "above", "none") for word in context.words.range[kind]}
    unknown = [text for text in odd.unique().to_list() if folded(text) not in known and folded(text) != folded(label)]
    count = int(odd.is_in(unknown).sum()) if unknown else 0
    if not in_many_rows(count, texts.len()):
        return None
    return OpenPoint(
        "values_unread", f"{count} values of '{label}', such as '{sorted(unknown)[0]}', are no numbers",
        "write what they stand for under below, above or no_value in a layout",
        ("below the sensor's range", "above the sensor's range", "no reading"),
        tuple(f'{key} = ["{sorted(unknown)[0]}"]' for key in ("below", "above", "no_value")),
    )  # fmt: skip


def in_many_rows(count: int, whole: int) -> bool:
    return count >= _MANY_ROWS and count >= _MANY_SHARE * whole
