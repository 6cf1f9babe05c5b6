"""Shapes of JSON beside an array of objects: columns side by side, and arrays or objects under keys of their own."""

from collections.abc import Callable
from typing import Any

_LEAST_LONG = 2  # entries from which lists of one length are columns


def arrays_of_objects(whole: dict[str, Any], before: str = "") -> list[tuple[str, list[dict[str, Any]]]]:
    """Every array of objects that an object holds, itself or in an object within it, with its dotted key."""
    found: list[tuple[str, list[dict[str, Any]]]] = []
    for key, value in whole.items():
        if isinstance(value, list) and value and all(isinstance(entry, dict) for entry in value):
            found.append((f"{before}{key}", value))
        elif isinstance(value, dict):
            found += arrays_of_objects(value, f"{before}{key}.")
    return found


def columns_as_rows(whole: dict[str, Any]) -> list[dict[str, Any]] | None:
    """{"time": [...], "glucose": [...]}: lists of plain values of one length are columns. None where it is not so."""
    named, rows = whole.get("columns"), whole.get("data")
    if isinstance(named, list) and isinstance(rows, list) and rows and all(isinstance(row, list) for row in rows):
        if any(len(row) != len(named) for row in rows) or not all(isinstance(name, str) for name in named):
            return None
        return [dict(zip(named, row, strict=True)) for row in rows]
    lists = {key: value for key, value in whole.items() if isinstance(value, list)}
    plain = all(not isinstance(entry, dict | list) for value in lists.values() for entry in value)
    lengths = {len(value) for value in lists.values()}
    if len(lists) < 2 or not plain or len(lengths) != 1 or min(lengths) < _LEAST_LONG:
        return None
    return [dict(zip(lists, entries, strict=True)) for entries in zip(*lists.values(), strict=True)]


def keyed_rows(whole: dict[str, Any], is_time: Callable[[str], bool]) -> list[dict[str, Any]] | None:
    """{"2026-03-14T02:10": 104, ...} or with an object for each time: the keys are a column 'time'. None otherwise."""
    if len(whole) < _LEAST_LONG or not all(is_time(key) for key in whole):
        return None
    if all(isinstance(value, dict) for value in whole.values()):
        return [{"time": key, **value} for key, value in whole.items() if "time" not in value]
    if any(isinstance(value, dict | list) for value in whole.values()):
        return None
    return [{"time": key, "value": value} for key, value in whole.items()]


def lines_beside(whole: dict[str, Any]) -> tuple[str, ...]:
    """What stands beside the entries of an object, as lines above its table: 'unit: mg/dL', 'timezone: UTC'.

    A list of one text is that text: "patients": ["Tom"].
    """
    found = []
    for key, value in whole.items():
        if isinstance(value, dict):
            found += [f"{key} {line}" for line in lines_beside(value)]
        elif isinstance(value, list) and len(value) == 1 and isinstance(value[0], str):
            found.append(f"{key}: {value[0]}")
        elif value is not None and not isinstance(value, list):
            found.append(f"{key}: {value}")
    return tuple(found)
