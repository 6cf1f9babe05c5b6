"""Columns that say something about their whole row: whose it is, whether it counts, and in which unit it is."""

import re

from gramrise.intake.context import ReadContext
from gramrise.intake.evidence import Evidence, OpenPoint
from gramrise.intake.files import TextTable
from gramrise.intake.labels import AMOUNT, MEASURED, NOTE, NOTHING, quantity_of, read_label, unit_of_cell, unknown_words
from gramrise.intake.layouts.column_profiles import MOST_EXAMPLES, ColumnProfile
from gramrise.intake.words import HeaderWords, folded

_MOST_NAMES = 8  # of the children of one table; our choice: more are no household's
_NAMED = 5  # names shown in a question
_FALSE = frozenset({"0", "false", "no", "n", "nein", "non", "f", "nee", "nie", "nej", "nao", "falso", "faux", "-"})
_TRUE = frozenset({"1", "true", "yes", "y", "ja", "oui", "si", "t", "tak", "sim", "x", "wahr", "vrai", "j"})
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")  # isDeleted
_TIMES = {"moment", "day", "clock"}


def units_in(column: ColumnProfile, words: HeaderWords) -> dict[str, str]:
    """The unit each text of a column names; empty where one of them names none."""
    if column.holds != "text" or column.different > MOST_EXAMPLES:
        return {}
    found = {cell: unit_of_cell(cell, words) for cell in column.examples}
    return found if found and all(found.values()) else {}


def check_ids(columns: list[ColumnProfile], evidence: Evidence) -> None:
    """A number of rows is another in each row; one that returns may be the number of a person."""
    for column in columns:
        other = column.meanings & {"about", "glucose", "insulin", "carbs", "amount"}
        if "row_number" in column.meanings and not other and 1 < column.different <= column.filled / 2:
            evidence.open.append(_several(column))


def check_person(columns: list[ColumnProfile], context: ReadContext, evidence: Evidence) -> list[ColumnProfile]:
    """The columns that name persons; one that names several stays open."""
    named = [column for column in columns if names_persons(column, context.words)]
    for column in named:
        if _names_givers(column, context):
            evidence.prove(f"'{column.label}' is passed over", "its cells are adults, who gave it or noticed")
        elif column.different > 1 or {folded(cell) for cell in column.examples} & context.others:
            evidence.open.append(_several(column))
        else:
            evidence.prove(f"'{column.label}' names one person", f"all its cells are '{column.examples[0]}'")
    return named


def _names_givers(column: ColumnProfile, context: ReadContext) -> bool:
    """Whether all cells are adults, schools and their like: 'Wer' in a log says then who gave it, not whose it is."""
    words = context.words
    if column.different > len(column.examples) or _ends_with(column.label, words.listed("whose", "to_whom")):
        return False
    adults = words.listed("amounts", "adult") | words.listed("whose", "no_names")
    said = [re.findall(r"[^\W\d_]+", folded(cell)) for cell in column.examples]
    return bool(said) and all(cell and adults.issuperset(cell) for cell in said)


def check_names_in_words(columns: list[ColumnProfile], rows: int, context: ReadContext, evidence: Evidence) -> None:
    """Remarks that are nothing but names, or devices that take turns from row to row, may tell two persons apart."""
    for column in columns:
        if column.holds == "text" and column.different <= _MOST_NAMES and column.filled >= 2 * column.different:
            if column.different == 1 and column.filled >= rows:
                continue  # one name in each row is the name of all of them
            if "portion_of_day" in column.meanings:
                continue  # 'Fri', 'Sat'
            lone = [cell for cell in column.examples if _is_name(cell, context)]
            if len(lone) == column.different and column.meanings & {"note", "about"} - {"row_number"}:
                evidence.open.append(_several(column))


def check_devices(columns: list[ColumnProfile], table: TextTable, evidence: Evidence) -> None:
    """A new device follows the one before; two that take turns may be on two persons."""
    for column in columns:
        if "device" not in column.meanings or not 1 < column.different <= _MOST_NAMES:
            continue
        cells = table.cells[str(column.at)].fill_null("").str.strip_chars()
        cells = cells.filter(cells != "")
        if int((cells != cells.shift(1)).sum()) > 2 * column.different:
            evidence.open.append(_several(column))


def _is_name(cell: str, context: ReadContext) -> bool:
    """One or two words with a capital that nobody has taught us: 'Ben', 'Anna M'."""
    words = cell.replace(".", " ").split()
    if not 1 <= len(words) <= 2 or not all(word.isalpha() and word[:1].isupper() for word in words):
        return False
    said = {folded(one) for one in words}
    taught = (("amounts", context.words.amounts), ("states", context.words.states))
    known = any(said & context.words.listed(table, key) for table, lists in taught for key in lists)
    return not known and bool(unknown_words(cell, context.words))


def _several(column: ColumnProfile) -> OpenPoint:
    names = column.examples[:_NAMED]
    return OpenPoint(
        "several_persons", f"column '{column.label}' names {column.different} different persons or things",
        "say under [[brings]] in a layout which rows are this person's",
        (*(f"the rows of '{name}'" for name in names), "all rows: keep the layout as it is"),
        (*(f'when = {{ column = "{column.name}", words = ["{name}"] }}' for name in names), "no line"),
    )  # fmt: skip


def names_persons(column: ColumnProfile, words: HeaderWords) -> bool:
    """Whether the header of a column says that its cells are persons: 'child', 'Wer', 'gegeben an'."""
    means = column.meanings
    if column.holds == "text" and _ends_with(column.label, words.listed("whose", "to_whom")):
        return True
    if "person" not in means or (means & {"amount", "note", "about", "not_time"} and column.holds == "number"):
        return False
    return not means & {"glucose", "insulin", "carbs", "weight", "glucose_source", "source"}


def says_who_gave(column: ColumnProfile, words: HeaderWords) -> bool:
    """Whether a column of words says who gave the glucose beside it: nothing of it is kept."""
    if column.holds != "text" or not _ends_with(column.label, words.listed("whose", "by_whom")):
        return False
    return not any(mark.isdigit() for cell in column.examples for mark in cell)


def _ends_with(label: str, phrases: frozenset[str]) -> bool:
    """Whether a header ends with whole words of a list, a question mark or colon aside: 'Given by?'."""
    plain = folded(label)
    plain = plain[:-1].rstrip() if plain.endswith(("?", ":")) else plain
    before = [plain[: -len(phrase)][-1:] for phrase in phrases if plain.endswith(phrase)]
    return any(not mark.isalnum() and mark != "_" for mark in before)


def is_kind(column: ColumnProfile, context: ReadContext) -> bool:
    """Whether a column's words name quantities, whatever its header says; or its header says that they are kinds."""
    means = column.meanings
    if column.different > MOST_EXAMPLES or column.holds not in {"text", "number"}:
        return False
    headed = "kind" in means
    other = "note" in means or (means & {"glucose_source", "food", "carbs", "activity"} and not headed)
    if other or "unit" in means or units_in(column, context.words):
        return False
    told = [quantity_of(read_label(cell, context.words)) for cell in column.examples]
    measured = [which for which in told if which in MEASURED]
    if column.holds == "number":
        return headed and not means - {"kind", "row_number", "filler", "person"} and not measured
    if "insulin" in means:
        return True
    if set(measured) == {"given"} or not measured:  # tablets and bottles: of what an amount is
        return headed and not means & {"person", "source"}
    shared = sum(which in MEASURED or which in {NOTHING, NOTE} for which in told)
    return headed or 2 * shared >= len(told)


def check_states(
    columns: list[ColumnProfile], rows: int, context: ReadContext, evidence: Evidence
) -> list[ColumnProfile]:
    """The columns that say whether a row counts. Rows that do not, and words nobody knows, stay open."""
    found = []
    for column in columns:
        headed = _is_flag(column, context.words) or (
            "status" in column.meanings and not column.meanings & {"glucose", "insulin", "carbs", "not_itself"}
        )
        if column.different > MOST_EXAMPLES and not (headed and column.holds in _TIMES):
            continue
        marks = {cell: _state(cell, column, context.words) for cell in column.examples}
        known = [state for state in marks.values() if state]
        told = column.holds == "text" and ("bad" in known or 2 * len(known) >= len(marks)) and _may_be_states(column)
        if not headed and not (known and told):
            continue
        found.append(column)
        bad = [cell for cell, state in marks.items() if state == "bad"]
        partly = len(marks) > 1 or column.filled < rows or column.holds == "text"
        odd = [cell for cell, state in marks.items() if not state] if headed and partly else []
        if bad or odd:
            evidence.open.append(_marked(column, bad or odd, [cell for cell, s in marks.items() if s == "good"]))
        else:
            evidence.prove(f"every row counts by '{column.label}'", f"its words are {', '.join(marks)}")
    return found


def _may_be_states(column: ColumnProfile) -> bool:
    """Remarks count where single cells are nothing but such a word; amounts of food or glucose never."""
    return not column.meanings & {"food", "carbs", "source", "form", "glucose_source", "activity"}


def _state(cell: str, column: ColumnProfile, words: HeaderWords) -> str:
    """'good', 'bad' or ''."""
    word = " ".join(folded(cell).replace("_", " ").replace("-", " ").split())
    crossed, affirmed = (bool(_spoken(column) & _state_words(words, state)) for state in ("bad", "good"))
    affirmed = affirmed or "given" in column.meanings
    if crossed and (column.holds in _TIMES or word in _TRUE):
        return "bad"
    if word in _FALSE | _TRUE and (crossed or affirmed):
        return "good" if (word in _FALSE) == crossed else "bad"
    for state in ("bad", "good"):
        if word in _state_words(words, state):
            return state
    return ""


def _state_words(words: HeaderWords, state: str) -> frozenset[str]:
    kept = words.made.get(("words of states", state))
    if kept is None:
        kept = frozenset(entry.replace("-", " ") for entry in words.listed("states", state))
        words.made["words of states", state] = kept
    assert isinstance(kept, frozenset)
    return kept


def _spoken(column: ColumnProfile) -> set[str]:
    return set(folded(_CAMEL.sub(" ", column.label)).replace("_", " ").replace("?", " ").split())


def _is_flag(column: ColumnProfile, words: HeaderWords) -> bool:
    """Whether a column of nothing but yes and no says of each row that it was given, or only planned."""
    plain = {folded(cell) for cell in column.examples} <= _TRUE | _FALSE
    counts = column.holds == "number" and column.quantity in {AMOUNT, *MEASURED}
    return (
        plain
        and not counts
        and (
            "given" in column.meanings
            or bool(_spoken(column) & (_state_words(words, "bad") | _state_words(words, "good")))
        )
    )


def _marked(column: ColumnProfile, doubtful: list[str], good: list[str]) -> OpenPoint:
    kept = ", ".join(f'"{word}"' for word in good) or '"WORD"'
    every = ", ".join(f'"{word}"' for word in column.examples[:20])
    return OpenPoint(
        "rows_marked",
        f"column '{column.label}' marks rows as '{doubtful[0]}', and nothing says whether they count",
        "say under each [[brings]] in a layout which rows do, or take the others out of the file",
        (f"only the rows marked {kept}", "all rows"),
        (f'when = {{ column = "{column.name}", words = [{kept}] }}',
         f'when = {{ column = "{column.name}", words = [{every}] }}'),
    )  # fmt: skip
