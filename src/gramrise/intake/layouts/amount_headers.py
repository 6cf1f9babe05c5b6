"""Headers that make another amount of the numbers below or beside them: sums, products, shares, rests."""

from typing import Final

from gramrise.connectors.layout import GlucoseGiven, Layout
from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.layouts.column_profiles import ColumnProfile, profile_columns
from gramrise.intake.words import folded, header_words

_SUMS: Final = frozenset({"total", "totals", "sum", "gesamt", "summe", "totale", "suma", "somme", "totaal", "razem"})
_PRODUCTS: Final = frozenset({"product", "produkt", "produkts", "produktes", "produit", "producto", "prodotto", "item"})
_SHARES: Final = frozenset({"part", "share", "anteil", "teil", "fraction", "percent", "percentage", "prozent", "%"})
_RESTS: Final = frozenset({"rest", "left", "leftover", "remaining", "remain", "remainder", "ubrig", "reste", "restes",
                           "restant", "restante", "restantes", "resto", "sobra"})  # fmt: skip
# Beside these a word for a share or a rest still speaks of what was given; beside any other it may be of a battery.
_STILL_GIVEN: Final = frozenset({"not_itself", "doubtful", "filler", "amount", "given", "source", "glucose_source",
                                 "grams", "unit", "portion"})  # fmt: skip
_UNITS: Final = frozenset({"piece", "ml", "gram", "other"})
_NOTHING: Final = frozenset({"0", "0.0", "0,0", "-", "nichts", "nothing", "none", "kein", "keiner", "keine", "rien"})
_WHOLE: Final = frozenset({"1", "1.0", "1,0", "100", "100%", "100 %", "1/1", "all", "alle", "alles", "ganz", "whole"})


def is_running_sum(column: ColumnProfile) -> bool:
    """Whether a header calls the amounts below it a total: 'pieces total', 'Stück gesamt'."""
    return bool(set(header_words(column.label)) & _SUMS)


def weighs_the_product(column: ColumnProfile) -> bool:
    """Whether a header counts grams of what is bought, and not of glucose: 'grams of product'."""
    return column.in_grams and bool(set(header_words(column.label)) & _PRODUCTS)


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
    taken = {table.column(name) for name in used}
    for column in profile_columns(table, context.words):
        if str(column.at) in taken or not column.filled or not _may_be_less(column):
            continue
        evidence.open.append(OpenPoint(
            "share_open", f"column '{column.label}' may say that only a part of the amount beside it was taken",
            "write what was taken as the amount, and leave the column out, or say so in a layout",
            ("the amount is all that was taken",), (f'no part for "{column.name}"',),
        ))  # fmt: skip


def _may_be_less(column: ColumnProfile) -> bool:
    """Whether a header speaks of a share or a rest of the amount, and the cells do not all say that it was whole."""
    said = {*header_words(column.label), *(["%"] if column.label.strip() == "%" else [])}
    if not column.meanings <= _STILL_GIVEN or not column.said.units <= _UNITS:
        return False
    cells = {folded(cell) for cell in column.examples}
    return bool(said & _SHARES and not cells <= _WHOLE) or bool(said & _RESTS and not cells <= _NOTHING)
