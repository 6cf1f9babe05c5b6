"""The review as tables that open in a spreadsheet without anything in them being run."""

import csv
import io
from collections.abc import Iterable
from datetime import date, datetime
from typing import Final

from gramrise.report.review.chapters.danger_words import COUNTS
from gramrise.report.review.numbers.view import Panel, PersonReview

# A cell that begins so is taken for a formula, or for one after the characters that spreadsheets skip (OWASP, "CSV
# injection"). Full-width twins count, as some programs fold them.
RUNS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
# So that a spreadsheet knows the letters.
BYTE_ORDER_MARK: Final = "\ufeff"

Cell = str | float | int | bool | date | datetime | None


def panel_table(panel: Panel) -> str:
    """One row a person and band; a person whose numbers are not signed has one row without a band."""
    head = (
        "person", "name", "age_years", *(f"{code}_n" for code in COUNTS), "lows_n", "lows_by_night_n", "days", "band",
        "reference_date", "ratio", "ratio_p05", "ratio_p95", "growth_ratio", "probability_moved", "listed",
        "pairings_since", "signed_on", "holds_not", "last_reading_utc",
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for line in panel.lines:
        dangers = line.dangers
        counts = (*(getattr(dangers, f"{code}_n") for code in COUNTS), dangers.lows_n, dangers.lows_by_night_n)
        first = (line.person_id, line.name, line.age_years, *counts, dangers.days)
        last = (line.signed_on, " ".join(line.holds_not), line.last_reading_utc)
        for each in line.drift:
            ratios = (each.ratio, each.ratio_p05, each.ratio_p95, each.growth_ratio, each.probability_moved)
            rows.append((*first, each.band, each.reference_on, *ratios, each.listed, each.pairings_since, *last))
        if not line.drift:
            rows.append((*first, *(None,) * 9, *last))
    return _written(head, rows)


def pairings_table(review: PersonReview) -> str:
    """One row a pairing, the latest first."""
    head = (
        "person", "first_dose_utc", "band", "class", "doses_n", "grams", "sources", "form", "verdict", "reasons",
        "start_seen_mg_dl", "rise_seen_mg_dl", "rise_estimated_mg_dl", "factor_mg_dl_per_g", "factor_sd_mg_dl_per_g",
        "weight_kg", "insulin_on_board_units", "above_180_within_2h", "shown_factor_mg_dl_per_g",
    )  # fmt: skip
    rows = (
        (
            review.person_id, one.first_dose_utc, one.band, one.treatment_class, one.doses_n, one.grams,
            "; ".join(one.sources), one.form, one.verdict, " ".join(one.reasons), one.start_seen_mg_dl,
            one.rise_seen_mg_dl, one.rise_estimated_mg_dl, one.factor_mg_dl_per_g, one.factor_sd_mg_dl_per_g,
            one.weight_kg, one.insulin_on_board_units, one.above_180_within_2h, one.shown_factor_mg_dl_per_g,
        )
        for one in review.pairings
    )  # fmt: skip
    return _written(head, rows)


def _written(head: tuple[str, ...], rows: Iterable[tuple[Cell, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return BYTE_ORDER_MARK + out.getvalue()


def _cell(value: Cell) -> str:
    """Numbers as they are; text that a spreadsheet would run is made text by an apostrophe before it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds").replace("+00:00", "Z")
    if isinstance(value, int | date):
        return str(value)
    kept = value.replace("\0", "")
    return f"'{kept}" if kept.lstrip(" \u00a0").startswith(RUNS) else kept
