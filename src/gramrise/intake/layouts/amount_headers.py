"""Headers that make another amount of the numbers below or beside them: sums, products, shares, rests."""

from typing import Final

from gramrise.connectors.layout import GlucoseGiven, Layout
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.column_profiles import ColumnProfile, profile_columns
from gramrise.intake.words import HeaderWords, folded, header_words

# Beside these a word for a share or a rest still speaks of what was given; beside any other it may be of a battery.
_STILL_GIVEN: Final = frozenset({"not_itself", "doubtful", "filler", "amount", "given", "source", "glucose_source",
                                 "grams", "unit", "portion"})  # fmt: skip
_UNITS: Final = frozenset({"piece", "ml", "gram", "other"})


def is_running_sum(column: ColumnProfile, words: HeaderWords) -> bool:
    """Whether a header calls the amounts below it a total: 'pieces total', 'Stück gesamt'."""
    return not words.listed("amount_headers", "sums").isdisjoint(header_words(column.label))


def weighs_the_product(column: ColumnProfile, words: HeaderWords) -> bool:
    """Whether a header counts grams of what is bought, and not of glucose: 'grams of product'."""
    return column.in_grams and not words.listed("amount_headers", "products").isdisjoint(header_words(column.label))


def sum_open(column: ColumnProfile) -> OpenPoint:
    """For a column of amounts that may each hold those above it."""
    return OpenPoint(
        "total_open", f"column '{column.label}' may add up what was given so far, row by row",
        "write in each row what was given then, under a header such as pieces or amount",
        ("each row is what was given then",), (f'kind = "doses"\namount = "{column.name}"',),
    )  # fmt: skip


def check_no_share(layout: Layout, used: list[str], table: TextTable, context: ReadContext, evidence: Evidence) -> None:
    """Adds an open point for a column beside an amount that may say how much of it was taken, or left over.

    used  columns that the layout names
    """
    if not any(isinstance(part, GlucoseGiven) and not part.remarks_too for part in layout.brings):
        return
    if not any(map(any, (_speaks_of(cell.strip(), context.words) for cell in table.header))):
        return  # seen without looking at each cell of a large block
    taken = {table.column(name) for name in used}
    for column in profile_columns(table, context.words):
        if str(column.at) in taken or not column.filled or not _may_be_less(column, context.words):
            continue
        evidence.open.append(OpenPoint(
            "share_open", f"column '{column.label}' may say that only a part of the amount beside it was taken",
            "write what was taken as the amount, and leave the column out, or say so in a layout",
            ("the amount is all that was taken",), (f'no part for "{column.name}"',),
        ))  # fmt: skip


def _may_be_less(column: ColumnProfile, words: HeaderWords) -> bool:
    """Whether a header speaks of a share or a rest of the amount, and the cells do not all say that it was whole."""
    share, rest = _speaks_of(column.label, words)
    if not (share or rest) or not column.meanings <= _STILL_GIVEN or not column.said.units <= _UNITS:
        return False
    cells = {folded(cell) for cell in column.examples}
    whole, nothing = (words.listed("amount_headers", key) for key in ("whole", "nothing"))
    return (share and not cells <= whole) or (rest and not cells <= nothing)


def _speaks_of(label: str, words: HeaderWords) -> tuple[bool, bool]:
    """Whether a header names a share, and whether it names a rest."""
    said = {*header_words(label), *(["%"] if label == "%" else [])}
    share, rest = (bool(said & words.listed("amount_headers", key)) for key in ("shares", "rests"))
    return share, rest
