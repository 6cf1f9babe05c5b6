"""Templates to text: everything escaped, and nothing that is missing passes in silence."""

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

TEMPLATES = Path(__file__).parent / "templates"


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip


def render(template: str, **values: Any) -> str:
    return _environment().get_template(template).render(**values)
