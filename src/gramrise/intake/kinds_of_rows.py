"""Tables whose rows are of several kinds, told apart by the words of one column."""

from gramrise.connectors.layout import Food, Glucose, Insulin, Part, When
from gramrise.intake.circumstances import Circumstances
from gramrise.intake.columns import Column, meanings
from gramrise.intake.evidence import Findings, OpenPoint
from gramrise.intake.units_written import glucose_unit_in

_KINDS = ("finger", "sensor", "long_insulin", "insulin", "food", "note")


def parts_by_kind(kind: Column, columns: list[Column], around: Circumstances, found: Findings) -> list[Part]:
    """One part for each kind of row whose word is known. A word nobody knows stays open."""
    told: dict[str, list[str]] = {}
    for word in kind.examples:
        told.setdefault(_kind_of(word, around), []).append(word)
    if not (told.keys() & {"finger", "sensor", "glucose", "insulin", "food"}):
        return []
    unknown = told.pop("", [])
    if unknown:
        found.open.append(OpenPoint(
            "kind_open", f"nothing says what rows of kind '{unknown[0]}' are", "say so under 'when' in a layout",
            ("a sensor's readings", "finger-sticks", "nothing to keep"),
            (f'kind = "readings", when = {{ column = "{kind.name}", words = ["{unknown[0]}"] }}',
             f'kind = "fingers", when = {{ column = "{kind.name}", words = ["{unknown[0]}"] }}',
             "no part with this word"),
        ))  # fmt: skip
    parts: list[Part] = []
    for which, words in told.items():
        part = _part(which, When(column=kind.name, words=tuple(words)), columns, around)
        if part is not None:
            found.prove(f"rows of kind {', '.join(words)} are {which}", f"the words of column '{kind.label}'")
            parts.append(part)
    return parts


def _kind_of(word: str, around: Circumstances) -> str:
    means = meanings(word, around.words)
    for which in _KINDS:
        if which in means:
            return which
    return "glucose" if "glucose" in means else ""


def _part(which: str, when: When, columns: list[Column], around: Circumstances) -> Part | None:
    """A part for one kind of row: its own column, else the table's one column of values."""
    if which in {"long_insulin", "note"}:
        return None
    wanted = {"finger": "glucose", "sensor": "glucose"}.get(which, which)
    numbers = [column for column in columns if column.holds == "number"]
    own = [column for column in numbers if wanted in column.meanings]
    if wanted == "glucose":
        own = own or [column for column in numbers if glucose_unit_in(column.label, around.words)]
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
