"""The import graph of the package, read from its source: imports inside functions and for type checking count too.

Run `python tests/support/import_graph.py` from the root of a checkout to print the room graph of DEVELOPERS.md.
"""

import ast
import os
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[2] / "src" / "gramrise"
Graph = dict[str, set[str]]
# From the ground up. A room imports rooms of lower rows only; `config` and `connectors` lie between floors 1 and 2.
FLOORS: tuple[tuple[str, frozenset[str]], ...] = (
    ("Floor 1", frozenset({"domain"})),
    ("Between floors 1 and 2", frozenset({"config"})),
    ("Between floors 1 and 2", frozenset({"connectors"})),
    ("Floor 2", frozenset({"intake", "detect", "estimate", "supplies"})),
    ("Floor 3", frozenset({"store", "place"})),
    ("Floor 4", frozenset({"report"})),
    ("Floor 5", frozenset({"nightly"})),
    ("Floor 6", frozenset({"cli", "web"})),
)


def import_graph(package: Path = PACKAGE) -> Graph:
    """Module -> modules of the package that it imports, by full name; a folder stands for its `__init__`."""
    files = {_module_name(package, file): file for file in source_files(package)}
    return {name: set(_imported(file, name, files)) - {name} for name, file in files.items()}


def source_files(package: Path = PACKAGE) -> list[Path]:
    """The package's own files and those behind its symlinks, which `rglob` does not enter."""
    folders = os.walk(package, followlinks=True)
    return sorted(Path(folder) / name for folder, _, names in folders for name in names if name.endswith(".py"))


def names_imported(file: Path) -> list[str]:
    """Full names of the modules that the absolute import statements of a file name, of any package."""
    nodes = list(ast.walk(ast.parse(file.read_text("utf-8"))))
    plain = [alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names]
    return plain + [node.module for node in nodes if isinstance(node, ast.ImportFrom) and node.module]


def circles(graph: Graph) -> list[list[str]]:
    """Every set of modules of which each reaches each other one, in order of name; [] where there is no circle."""
    reached = {node: _reachable(graph, node) for node in graph}
    found = {
        tuple(sorted({node} | {other for other in reached[node] if node in reached[other]}))
        for node in graph
        if node in reached[node]
    }
    return [list(circle) for circle in sorted(found)]


def room_of(module: str) -> str:
    """The room a module lies in; the package's own two files lie in none, which is ''."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 and not parts[1].startswith("__") else ""


def floor_of(room: str) -> int:
    """The row of a room in FLOORS, counted from the ground."""
    return next(row for row, (_, rooms) in enumerate(FLOORS) if room in rooms)


def room_graph(graph: Graph) -> Graph:
    """Room -> other rooms that it imports."""
    rooms: Graph = {room_of(module): set() for module in graph if room_of(module)}
    for module, imported in graph.items():
        if room_of(module):
            rooms[room_of(module)] |= {room_of(each) for each in imported} - {"", room_of(module)}
    return rooms


def drawn(rooms: Graph) -> str:
    """A line a room, the highest floor first; what a room imports stands to the right, the nearest floor first."""
    order = sorted(rooms, key=lambda room: (-floor_of(room), room))
    lines = [f"{room:<11}-> {', '.join(each for each in order if each in rooms[room])}" for room in order]
    return "\n".join(line.removesuffix("-> ").rstrip() for line in lines)


def _module_name(package: Path, file: Path) -> str:
    parts = file.relative_to(package.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _imported(file: Path, module: str, known: dict[str, Path]) -> Iterator[str]:
    """Modules that a file imports; `from room import name` is the module `room.name` if there is one."""
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)
        elif isinstance(node, ast.ImportFrom):
            origin = _origin(node, module, file.name == "__init__.py")
            whole = [f"{origin}.{alias.name}" for alias in node.names]
            yield from (name if name in known else origin for name in whole if name in known or origin in known)


def _origin(node: ast.ImportFrom, module: str, is_folder: bool) -> str:
    if not node.level:
        return node.module or ""
    parts = module.split(".")
    above = parts[: len(parts) - node.level + is_folder]
    return ".".join([*above, node.module] if node.module else above)


def _reachable(graph: Graph, start: str) -> set[str]:
    seen: set[str] = set()
    waiting = list(graph[start])
    while waiting:
        node = waiting.pop()
        if node not in seen:
            seen.add(node)
            waiting += graph[node]
    return seen


if __name__ == "__main__":
    print(drawn(room_graph(import_graph())))
