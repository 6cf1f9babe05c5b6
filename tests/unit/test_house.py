"""The house: floors never import upward, the domain stays pure, and the frame of the repository is the one given."""

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from support.import_graph import (
    FLOORS,
    circles,
    drawn,
    floor_of,
    import_graph,
    names_imported,
    room_graph,
    room_of,
    source_files,
)

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "gramrise"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
ROOMS = [(room, name) for name, rooms in FLOORS for room in sorted(rooms)]
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
    return [(file.relative_to(SOURCE).parts[0], name) for file in source_files() for name in names_imported(file)]


@pytest.fixture(scope="module")
def graph():
    return import_graph()


def test_no_module_imports_one_of_a_higher_floor_or_of_another_room_of_its_own_floor(graph):
    arrows = [(a, b) for a, imported in graph.items() for b in imported if room_of(a) and room_of(a) != room_of(b)]
    assert len(arrows) > 100
    wrong = [(a, b) for a, b in arrows if room_of(b) and floor_of(room_of(b)) >= floor_of(room_of(a))]
    assert wrong == []


def test_no_modules_import_each_other_in_a_circle(graph):
    assert len(graph) > 100
    assert circles(graph) == []


def test_a_circle_is_found_inside_a_function_and_under_type_checking(tmp_path):
    package = tmp_path / "gramrise"
    (package / "detect").mkdir(parents=True)
    texts = {
        "__init__.py": "",
        "detect/__init__.py": "from gramrise.detect.lows import lows\n",
        "detect/lows.py": "def lows():\n    from gramrise.detect import doses\n",
        "detect/doses.py": "if TYPE_CHECKING:\n    from .gaps import Gap\n",
        "detect/gaps.py": "import gramrise.detect.lows\n",
    }
    for name, text in texts.items():
        (package / name).write_text(text, "utf-8")
    found = circles(import_graph(package))
    assert found == [["gramrise.detect.doses", "gramrise.detect.gaps", "gramrise.detect.lows"]]


def test_the_rooms_drawn_for_developers_are_those_of_the_source(graph):
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    block = re.search(r"<!-- room graph -->\n```\n(.*?)\n```", text, re.DOTALL)
    assert block, "DEVELOPERS.md holds no block after <!-- room graph -->"
    assert block[1] == drawn(room_graph(graph)), "python tests/support/import_graph.py prints the new lines"


@pytest.mark.parametrize(("room", "floor"), ROOMS)
def test_the_first_line_of_a_room_names_its_floor(room, floor):
    header = ast.get_docstring(ast.parse((SOURCE / room / "__init__.py").read_text("utf-8")))
    assert header
    assert header.startswith(f"{floor}: ")


def test_the_domain_knows_no_file_clock_database_or_network():
    imported = [
        (file.name, name.split(".")[0]) for file in source_files(SOURCE / "domain") for name in names_imported(file)
    ]
    assert len(imported) > 40
    assert [(file, name) for file, name in imported if name in NOT_IN_THE_DOMAIN] == []


def test_every_pattern_of_package_data_matches_a_file():
    patterns = PROJECT["tool"]["setuptools"]["package-data"]
    assert patterns
    packages = {file.parent for file in source_files(SOURCE) if file.name == "__init__.py"}
    within = {"*": packages, "gramrise": {SOURCE}}
    stale = [
        (where, pattern)
        for where, each in patterns.items()
        for pattern in each
        if not any(found.is_file() for folder in within[where] for found in folder.glob(pattern))
    ]
    assert stale == []


def test_every_library_is_pinned_for_ci_at_a_version_the_project_allows():
    lines = (ROOT / ".ci" / "constraints.txt").read_text("utf-8").splitlines()
    pinned = dict(line.split("==") for line in lines if not line.startswith("#"))
    versions = {canonicalize_name(name): version for name, version in pinned.items()}
    project = PROJECT["project"]
    needed = [Requirement(text) for text in project["dependencies"] + project["optional-dependencies"]["test"]]
    assert len(needed) > 20
    unpinned = [str(each) for each in needed if canonicalize_name(each.name) not in versions]
    assert unpinned == []
    astray = [str(each) for each in needed if versions[canonicalize_name(each.name)] not in each.specifier]
    assert astray == []


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
