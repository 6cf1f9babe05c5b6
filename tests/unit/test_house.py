"""The house: floors never import upward, the domain stays pure, and the frame of the repository is the one given."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "gramrise"
FLOORS = [
    {"domain"},
    {"config"},
    {"connectors"},
    {"intake", "detect", "estimate"},
    {"store"},
    {"report"},
    {"nightly"},
    {"cli"},
]
NOT_IN_THE_DOMAIN = {
    "logging",
    "matplotlib",
    "sqlalchemy",
    "typst",
    "jinja2",
    "pathlib",
    "os",
    "time",
    "urllib",
    "socket",
}


def imports():
    """(importing room, imported module) of every import statement, those inside functions too."""
    for file in SOURCE.rglob("*.py"):
        room = file.relative_to(SOURCE).parts[0]
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names = [node.module]
            for name in names:
                yield room, name


def floor(room):
    return next(i for i, rooms in enumerate(FLOORS) if room in rooms)


def test_no_floor_imports_one_above_it_and_rooms_of_a_floor_do_not_import_each_other():
    wrong = []
    for room, name in imports():
        parts = name.split(".")
        if parts[0] != "gramrise" or len(parts) < 2 or room.endswith(".py") or parts[1].startswith("__"):
            continue
        if parts[1] != room and floor(parts[1]) >= floor(room):
            wrong.append((room, name))
    assert wrong == []


def test_the_domain_knows_no_file_clock_database_or_network():
    assert [(r, n) for r, n in imports() if r == "domain" and n.split(".")[0] in NOT_IN_THE_DOMAIN] == []


def test_the_top_level_of_the_repository_is_the_one_given():
    names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    if names == [""]:
        pytest.skip("not a git checkout")
    top = {name.split("/")[0] for name in names if name and not name.startswith(".")}
    assert top == {
        "pyproject.toml",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "src",
        "connectors",
        "config",
        "tests",
        "sample_exports",
    }


def test_help_loads_none_of_the_heavy_libraries():
    code = (
        "import sys\nfrom gramrise.cli.main import run\n"
        "sys.argv = ['gramrise', '--help']\n"
        "try:\n    run()\nexcept SystemExit as stop:\n    assert stop.code in (0, None)\n"
        "heavy = {'polars', 'sqlalchemy', 'scipy', 'numpy', 'matplotlib', 'typst', 'numba', 'apscheduler', 'alembic'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "LOADED []" in done.stdout


def test_other_rooms_reach_the_report_through_its_face_only():
    deep = [(room, name) for room, name in imports() if name.startswith("gramrise.report.") and room not in {"report"}]
    reached = [room for room, name in imports() if name == "gramrise.report"]
    assert {"nightly", "cli"} <= set(reached)
    assert deep == []


def test_no_plotting_library_is_carried_for_one_font():
    imported = {name.split(".")[0] for _, name in imports()}
    assert "typst" in imported
    assert "matplotlib" not in imported
    assert "matplotlib" not in (ROOT / "pyproject.toml").read_text("utf-8")
