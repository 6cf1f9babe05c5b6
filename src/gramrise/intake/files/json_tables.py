"""JSON arrays and lines of objects as tables. Duplicate keys, NaN and deep nesting are refused, never repaired."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from gramrise.intake.files.cell_shapes import looks_timed
from gramrise.intake.files.json_shapes import arrays_of_objects, columns_as_rows, keyed_rows, lines_beside
from gramrise.intake.files.text_table import LineText, TextTable, cells_of
from gramrise.intake.problems import FileRefused, FileWaits
from gramrise.intake.settings import IntakeSettings

_HALF_LETTER = re.compile("[\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class Found:
    """A table of objects, and the lines that were none: (row, text)."""

    table: TextTable
    bad: list[tuple[int, str]]


class _Refused(ValueError):
    """Something strict JSON does not allow."""


def looks_like_json(text: str) -> bool:
    """Whether a text begins as JSON does."""
    return text.lstrip()[:1] in {"{", "["} and text.lstrip()[:1] != ""


def json_tables(text: str, file: str, settings: IntakeSettings) -> list[Found]:
    """The tables of a JSON file: an array of objects, an object that holds such arrays, or an object a line.

    raises  FileRefused with the line, where it is not strict JSON; FileWaits where it is a record of a health standard
    """
    if len(text) > settings.most_json_bytes:
        raise FileRefused(
            "file_too_large", file, f"it is JSON of {len(text)} characters", "export fewer weeks, or a CSV table"
        )
    start = text.lstrip()
    if start.startswith("["):
        return [_table(list(_array(text, len(text) - len(start), file, settings)), [], text, file, settings)]
    whole = _whole(text, file, settings)
    if whole is None:
        rows, bad = _lines(text, settings)
        if not rows:
            raise FileRefused("json_broken", file, "it is neither JSON nor one JSON object a line", "export it again")
        return [_table(rows, bad, text, file, settings)]
    _check_standard(whole, file)
    beside = lines_beside(whole)
    held = arrays_of_objects(whole)
    if not held:
        entries = columns_as_rows(whole) or keyed_rows(whole, looks_timed)
        numbered = list(enumerate(entries, 1)) if entries else [(1, whole)]
        return [_table(numbered, [], text, file, settings, beside if entries else (), apart=bool(entries))]
    return [
        _table(
            [(_row_of(text, key.rpartition(".")[2]), entry) for entry in value],
            [],
            text,
            f"{file}: {key}",
            settings,
            beside,
        )
        for key, value in held
    ]


def _row_of(text: str, key: str) -> int:
    return text.count("\n", 0, max(0, text.find(f'"{key}"'))) + 1


def _whole(text: str, file: str, settings: IntakeSettings) -> dict[str, Any] | None:
    """The one object a text is; None where it is several, one a line."""
    try:
        value = _decoder().decode(text)
    except json.JSONDecodeError as problem:
        if problem.msg.startswith("Extra data"):
            return None
        first = text.lstrip().split("\n", 1)[0]
        if "\n" in text.strip() and _is_object(first):
            return None
        raise _broken(file, problem) from problem
    except (_Refused, RecursionError) as problem:
        raise _refused(file, problem) from problem
    _check_depth(value, file, settings)
    return value if isinstance(value, dict) else None


def _is_object(line: str) -> bool:
    try:
        return isinstance(_decoder().decode(line), dict)
    except (ValueError, RecursionError):
        return False


def _decoder() -> json.JSONDecoder:
    return json.JSONDecoder(object_pairs_hook=_no_twice, parse_constant=_no_constant, parse_float=str, parse_int=str)


def _no_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = {_whole_letters(key): _whole_letters(value) if isinstance(value, str) else value for key, value in pairs}
    if len(found) < len(pairs):
        raise _Refused("a key stands twice in one object")
    return found


def _whole_letters(text: str) -> str:
    """A text in which half a letter, as a cut emoji leaves it, is the mark for a letter lost."""
    return text if text.isascii() else _HALF_LETTER.sub("\ufffd", text)


def _no_constant(word: str) -> None:
    raise _Refused(f"{word} is no JSON value")


def _array(text: str, at: int, file: str, settings: IntakeSettings) -> Iterator[tuple[int, dict[str, Any]]]:
    """Each object of an array with the line it begins on; of the arrays behind it, too, where one was added later."""
    decoder = _decoder()
    row, counted = 1, 0
    at += 1
    while True:
        at = _skip(text, at)
        if text[at : at + 1] == "]":
            at = _skip(text, at + 1)
            if at >= len(text):
                return
            if text[at] != "[":
                row += text.count("\n", counted, at)
                raise FileRefused(
                    "json_broken", file, f"more stands behind the array, in row {row}", "export it again as strict JSON"
                )
            at += 1
            continue
        row += text.count("\n", counted, at)
        counted = at
        try:
            value, at = decoder.raw_decode(text, at)
        except json.JSONDecodeError as problem:
            raise _broken(file, problem) from problem
        except (_Refused, RecursionError) as problem:
            raise _refused(file, problem, row) from problem
        _check_depth(value, file, settings)
        if not isinstance(value, dict):
            raise FileRefused("json_no_table", file, f"row {row} holds something that is no object", "export objects")
        _check_standard(value, file)
        yield row, value
        at = _skip(text, at)
        if text[at : at + 1] not in {",", "]"}:
            raise FileRefused("json_broken", file, f"the array is cut off in row {row}", "export it again")
        at += text[at] == ","


def _skip(text: str, at: int) -> int:
    while at < len(text) and text[at] in " \t\n\r":
        at += 1
    return at


def _lines(text: str, settings: IntakeSettings) -> tuple[list[tuple[int, dict[str, Any]]], list[tuple[int, str]]]:
    rows: list[tuple[int, dict[str, Any]]] = []
    bad: list[tuple[int, str]] = []
    for row, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            continue
        try:
            value = _decoder().decode(line.strip())
        except (ValueError, RecursionError):
            value = None
        if isinstance(value, dict) and _depth(value, settings.most_json_depth) <= settings.most_json_depth:
            _check_standard(value, "")
            rows.append((row, value))
        else:
            bad.append((row, line[:200]))
    return rows, bad


def _check_standard(value: dict[str, Any], file: str) -> None:
    """Records of health standards carry states that a table reader would pass over."""
    if "resourceType" in value or ("header" in value and "body" in value):
        raise FileWaits(
            "standard_record",
            file,
            "it is a record of a health data standard, not a table",
            "export a table, one object an entry with a time and values",
        )


def _depth(value: Any, most: int) -> int:
    """How deep a value is nested, counted no further than `most` + 1."""
    level, depth = [value], 0
    while level and depth <= most:
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
        depth += 1
    return depth


def _check_depth(value: Any, file: str, settings: IntakeSettings) -> None:
    if _depth(value, settings.most_json_depth) > settings.most_json_depth:
        raise FileRefused(
            "json_too_deep", file, f"it is nested deeper than {settings.most_json_depth}", "export a table"
        )


def _broken(file: str, problem: json.JSONDecodeError) -> FileRefused:
    return FileRefused("json_broken", file, f"row {problem.lineno} is no JSON ({problem.msg})", "export it again")


def _refused(file: str, problem: Exception, row: int | None = None) -> FileRefused:
    where = f"row {row}: " if row is not None else ""
    if isinstance(problem, RecursionError):
        return FileRefused("json_too_deep", file, f"{where}it is nested too deep", "export a table")
    return FileRefused("json_not_strict", file, f"{where}{problem}", "export it again as strict JSON")


def _table(
    rows: list[tuple[int, dict[str, Any]]],
    bad: list[tuple[int, str]],
    text: str,
    file: str,
    settings: IntakeSettings,
    above: tuple[str, ...] = (),
    apart: bool = False,
) -> Found:
    """A table of entries. `above` stands beside them in the file; `apart`: an entry stands on no line of its own."""
    in_one_line = apart or len({row for row, _ in rows}) < len(rows)
    if in_one_line:  # a line that holds several entries tells none of them: each gets its own number
        rows = [(at, entry) for at, (_, entry) in enumerate(rows, 1)]
    flat = [(row, dict(_flat(entry))) for row, entry in rows]
    header = tuple(dict.fromkeys(key for _, entry in flat for key in entry))
    _check_sizes(flat, len(header), file, settings)
    cells = cells_of([(row, tuple(entry.get(key, "") for key in header)) for row, entry in flat])
    starts = sorted({row for row, _ in rows} | {row for row, _ in bad})
    commas = any("," in cell for _, entry in flat for cell in entry.values() if cell[:1].isdigit())
    text_of = EntryText(rows) if in_one_line else LineText(text.split("\n"), starts)
    return Found(TextTable(file, header, above, cells, text_of=text_of, typed=not commas), bad)


def _check_sizes(flat: list[tuple[int, dict[str, str]]], width: int, file: str, settings: IntakeSettings) -> None:
    """Refuses what is wider, or has a longer text in it, than any entry: each column and letter of it costs time."""
    if width > settings.most_columns:
        raise FileRefused(
            "too_many_columns", file, f"its entries have {width} keys in all", "leave out what is no entry"
        )
    longest = max((len(text) for _, entry in flat for text in entry.values()), default=0)
    if longest > settings.most_line_characters:
        raise FileRefused(
            "line_too_long",
            file,
            f"a text in it is longer than {settings.most_line_characters} characters",
            "it is probably no table of entries: export it again as CSV",
        )


@dataclass(frozen=True, slots=True)
class EntryText:
    """The text of an entry, found by its number from 1, where several stand on one line."""

    rows: list[tuple[int, dict[str, Any]]]

    def __call__(self, row: int) -> str:
        return json.dumps(self.rows[row - 1][1], ensure_ascii=False)


def _flat(entry: dict[str, Any], before: str = "") -> Iterator[tuple[str, str]]:
    """An object's values as text, inner objects by dotted keys."""
    for key, value in entry.items():
        name = f"{before}{key}"
        if isinstance(value, dict):
            yield from _flat(value, f"{name}.")
        elif value is None:
            yield name, ""
        elif isinstance(value, str):
            yield name, value
        else:
            yield name, json.dumps(value)
