"""The layouts at hand: those shipped here, and a household's own in the folder `layouts` of its home."""

import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path

from pydantic import ValidationError

from gramrise.connectors.layout import Layout
from gramrise.domain.problems import WrongUse


@cache
def shipped_layouts() -> tuple[Layout, ...]:
    """The layouts of this package, by name."""
    folder = files("gramrise.connectors") / "layouts"
    texts = {entry.name: entry.read_text("utf-8") for entry in folder.iterdir() if entry.name.endswith(".toml")}
    return tuple(read_layout(texts[name], name) for name in sorted(texts))


def load_layouts(home: Path | None) -> tuple[Layout, ...]:
    """Shipped layouts and those of `home`/layouts/*.toml; an own layout of the same name replaces the shipped one.

    raises  WrongUse naming the file and the first thing wrong with it
    """
    by_name = {layout.name: layout for layout in shipped_layouts()}
    folder = home / "layouts" if home is not None else None
    if folder is not None and folder.is_dir():
        for path in sorted(folder.glob("*.toml")):
            layout = read_layout(path.read_text("utf-8"), path.name)
            by_name[layout.name] = layout
    return tuple(by_name.values())


def read_layout(text: str, file_name: str) -> Layout:
    """A layout from the text of its TOML file. Raises WrongUse naming file, key and trouble."""
    try:
        return Layout.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as problem:
        raise WrongUse(f"layout {file_name}: {problem}", "mend the line that is named", "layout_broken") from problem
    except ValidationError as problem:
        first = problem.errors()[0]
        key = ".".join(str(part) for part in first["loc"]) or "the whole"
        raise WrongUse(f"layout {file_name}, {key}: {first['msg']}", f"change '{key}'", "layout_broken") from problem
