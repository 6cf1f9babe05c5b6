"""JSON read strictly, element by element with its line: no key twice, no NaN, decimals kept as written."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

DEEPEST: Final = 40  # our choice: records of these standards are nested less than 20 deep
_BLANKS: Final = " \t\n\r"
_HALF: Final = re.compile(r"\\u[dD][89a-fA-F]")


class NotStrictJson(ValueError):
    """A text that is no strict JSON. `row` is the line."""

    def __init__(self, what: str, row: int | None = None) -> None:
        super().__init__(what)
        self.what, self.row = what, row


@dataclass(frozen=True, slots=True)
class Element:
    """One JSON value with the line it begins on and its own text."""

    row: int
    text: str
    value: Any


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise NotStrictJson("a key stands twice in one object")
    return found


def _no_constant(word: str) -> None:
    raise NotStrictJson(f"{word} is no JSON value")


_DECODER: Final = json.JSONDecoder(object_pairs_hook=_once, parse_constant=_no_constant, parse_float=Decimal)


def value_at(text: str, at: int) -> tuple[Any, int]:
    """The value that begins at a place, and where it ends. Raises NotStrictJson."""
    try:
        value, end = _DECODER.raw_decode(text, at)
    except NotStrictJson as problem:
        raise NotStrictJson(problem.what, _row(text, at)) from problem
    except json.JSONDecodeError as problem:
        raise NotStrictJson(problem.msg, problem.lineno) from problem
    except RecursionError as problem:
        raise NotStrictJson("it is nested too deep", _row(text, at)) from problem
    except (ValueError, ArithmeticError) as problem:  # more digits than Python turns into a number
        raise NotStrictJson("a number has too many digits", _row(text, at)) from problem
    if too_deep(value):
        raise NotStrictJson("it is nested too deep", _row(text, at))
    if not _is_unicode(text[at:end], value):
        raise NotStrictJson("half a letter stands in it", _row(text, at))
    return value, end


def _is_unicode(text: str, value: Any) -> bool:
    """Whether a value holds letters only: half a surrogate pair, or a byte that is no UTF-8, can be stored nowhere."""
    try:
        text.encode()
        if _HALF.search(text):
            json.dumps(value, ensure_ascii=False, default=str).encode()
    except UnicodeEncodeError:
        return False
    return True


def too_deep(value: Any) -> bool:
    """Whether a value is nested deeper than DEEPEST."""
    level = [value]
    for _ in range(DEEPEST):
        level = [inner for outer in level if isinstance(outer, dict | list)
                 for inner in (outer.values() if isinstance(outer, dict) else outer)]  # fmt: skip
        if not level:
            return False
    return True


def whole_object(text: str) -> dict[str, Any]:
    """The one object that a line or a text is. Raises NotStrictJson."""
    at = skipped(text, 0)
    value, end = value_at(text, at)
    if skipped(text, end) < len(text):
        raise NotStrictJson("more stands behind it", _row(text, end))
    if not isinstance(value, dict):
        raise NotStrictJson("it is no object", _row(text, at))
    return value


def array_elements(text: str, at: int) -> Iterator[Element]:
    """Each element of the array that begins at a place. Where several begin on one line, the row is their number."""
    spans, _ = _spans(text, at)
    rows = _rows(text, [start for start, _ in spans])
    numbered = len(set(rows)) < len(rows)
    for number, ((start, stop), row) in enumerate(zip(spans, rows, strict=True), 1):
        yield Element(number if numbered else row, text[start:stop], value_at(text, start)[0])


def whole_array(text: str) -> Iterator[Element]:
    """Each element of the one array that a text is."""
    at = skipped(text, 0)
    _, end = _spans(text, at)
    if skipped(text, end) < len(text):
        raise NotStrictJson("more stands behind the array", _row(text, end))
    yield from array_elements(text, at)


def _spans(text: str, at: int) -> tuple[list[tuple[int, int]], int]:
    """Where each element of an array begins and ends, and where the array does. Values are dropped: memory."""
    spans: list[tuple[int, int]] = []
    at = skipped(text, at + 1)
    if text[at : at + 1] == "]":
        return spans, at + 1
    while True:
        _, end = value_at(text, at)
        spans.append((at, end))
        at = skipped(text, end)
        mark = text[at : at + 1]
        if mark == "]":
            return spans, at + 1
        if mark != ",":
            raise NotStrictJson("the array is cut off", _row(text, min(at, len(text))))
        at = skipped(text, at + 1)


def members(text: str, held_back: str) -> tuple[dict[str, Any], int | None]:
    """The members of the one object a text is; of the array `held_back` only where it begins.

    raises  NotStrictJson, also where more stands behind the object
    """
    at = skipped(text, 0)
    if text[at : at + 1] != "{":
        raise NotStrictJson("it is no object", 1)
    found: dict[str, Any] = {}
    array_at: int | None = None
    at = skipped(text, at + 1)
    if text[at : at + 1] == "}":
        at += 1
    else:
        at, array_at = _members_from(text, at, held_back, found)
    if skipped(text, at) < len(text):
        raise NotStrictJson("more stands behind it", _row(text, at))
    return found, array_at


def _members_from(text: str, at: int, held_back: str, found: dict[str, Any]) -> tuple[int, int | None]:
    array_at: int | None = None
    while True:
        key, at = value_at(text, at)
        at = skipped(text, at)
        if not isinstance(key, str) or text[at : at + 1] != ":":
            raise NotStrictJson("a key is missing", _row(text, at))
        if key in found:
            raise NotStrictJson("a key stands twice in one object", _row(text, at))
        at = skipped(text, at + 1)
        if key == held_back and text[at : at + 1] == "[":
            array_at, found[key] = at, None
            _, at = _spans(text, at)
        else:
            found[key], at = value_at(text, at)
        at = skipped(text, at)
        mark = text[at : at + 1]
        if mark == "}":
            return at + 1, array_at
        if mark != ",":
            raise NotStrictJson("it is cut off", _row(text, min(at, len(text))))
        at = skipped(text, at + 1)


def skipped(text: str, at: int) -> int:
    """The next place that holds no blank."""
    while at < len(text) and text[at] in _BLANKS:
        at += 1
    return at


def _rows(text: str, places: list[int]) -> list[int]:
    rows, row, counted = [], 1, 0
    for place in places:
        row += text.count("\n", counted, place)
        counted = place
        rows.append(row)
    return rows


def _row(text: str, at: int) -> int:
    return text.count("\n", 0, at) + 1
