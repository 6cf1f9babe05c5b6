"""The layouts at hand: those shipped here, and a household's own in the folder `layouts` of its home."""

import re
import stat
import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path

from pydantic import ValidationError

from gramrise.connectors.layout import DRAFT_NAME, Layout
from gramrise.domain.problems import WrongUse

MOST_BYTES = 1_000_000  # our choice: a layout has some kilobytes


@cache
def shipped_layouts() -> tuple[Layout, ...]:
    """The layouts of this package, by name."""
    folder = files("gramrise.connectors") / "layouts"
    texts = {entry.name: entry.read_text("utf-8") for entry in folder.iterdir() if entry.name.endswith(".toml")}
    return tuple(read_layout(texts[name], name) for name in sorted(texts))


def load_layouts(home: Path | None) -> tuple[Layout, ...]:
    """Shipped layouts and those of `home`/layouts/*.toml; an own layout of the same name replaces the shipped one.

    A draft kept under its own name is called as its file is: a second one must not take its place.
    raises  WrongUse naming the file and the first thing wrong with it
    """
    by_name = {layout.name: layout for layout in shipped_layouts()}
    folder = home / "layouts" if home is not None else None
    files_of: dict[str, str] = {}
    for path in sorted(folder.glob("*.toml")) if folder is not None and folder.is_dir() else ():
        layout = _own(path)
        if layout.name in files_of:
            raise WrongUse(
                f"layouts {files_of[layout.name]} and {path.name} are both called '{layout.name}'",
                "change the name in one of them",
                "layout_broken",
            )
        files_of[layout.name] = path.name
        by_name[layout.name] = layout
    return tuple(by_name.values())


def _own(path: Path) -> Layout:
    """A layout of the household. Whatever stands there instead of one is never waited for."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode) or found.st_size > MOST_BYTES:
            raise WrongUse(f"layout {path.name} is no plain file of text", "take it out of `layouts`", "layout_broken")
        text = path.read_text("utf-8-sig")
    except OSError as problem:
        told = f"layout {path.name} cannot be opened: {problem.strerror}"
        raise WrongUse(told, "let the user who runs gramrise own it", "layout_broken") from problem
    except UnicodeDecodeError as problem:
        raise WrongUse(
            f"layout {path.name} is no text in UTF-8", "save it again as UTF-8", "layout_broken"
        ) from problem
    layout = read_layout(text, path.name)
    if layout.name != DRAFT_NAME:
        return layout
    name = re.sub(r"[^a-z0-9-]+", "-", path.stem.casefold()).strip("-")
    return layout.model_copy(update={"name": name or DRAFT_NAME})


def read_layout(text: str, file_name: str) -> Layout:
    """A layout from the text of its TOML file. Raises WrongUse naming file, key and trouble."""
    try:
        return Layout.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as problem:
        raise WrongUse(f"layout {file_name}: {problem}", "mend the line that is named", "layout_broken") from problem
    except RecursionError as problem:
        raise WrongUse(f"layout {file_name} is nested too deep", "mend it", "layout_broken") from problem
    except ValidationError as problem:
        first = problem.errors()[0]
        key = ".".join(str(part) for part in first["loc"]) or "the whole"
        raise WrongUse(f"layout {file_name}, {key}: {first['msg']}", f"change '{key}'", "layout_broken") from problem
