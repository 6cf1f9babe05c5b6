"""A layout as the TOML text a person can keep, complete and change."""

import json
from typing import Any

from gramrise.connectors.layout import Layout


def draft_of(layout: Layout) -> str:
    """The TOML of a layout, without what is left at its default."""
    keys = layout.model_dump(exclude_defaults=True)
    lines = [f"{key} = {_value(keys[key])}" for key in ("name", "about", "person_column") if key in keys]
    for table in ("recognised_by", "file", "clock"):
        if keys.get(table):
            lines += ["", f"[{table}]", *_entries(keys[table])]
    for part in layout.brings:
        entries = part.model_dump(exclude_defaults=True)
        lines += [
            "",
            "[[brings]]",
            f'kind = "{part.kind}"',
            *_entries({k: v for k, v in entries.items() if k != "kind"}),
        ]
    return "\n".join(lines) + "\n"


def _entries(table: dict[str, Any]) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in table.items() if value is not None]


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{ " + ", ".join(_entries(value)) + " }"
    if isinstance(value, tuple | list):
        return "[" + ", ".join(_value(entry) for entry in value) + "]"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else str(value)
