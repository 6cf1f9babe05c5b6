"""The compiled loops: all in one module that rests on no other, and the same numbers as a plain numpy form."""

import ast
from pathlib import Path

import compiled_loops
import numpy as np
import pytest

import gramrise.estimate
from gramrise.estimate import compiled

ROOM = Path(gramrise.estimate.__file__).parent
LOOPS = [*compiled_loops.kalman_loops(), *compiled_loops.level_loops()]


def imported(file):
    """Modules that a file imports anywhere."""
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom):
            yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def test_numba_is_used_in_one_module_only():
    users = [file.name for file in ROOM.rglob("*.py") if any(name.split(".")[0] == "numba" for name in imported(file))]
    assert users == ["compiled.py"]


def test_compiled_loops_rest_on_no_other_module_as_the_compilers_cache_would_not_see_it_change():
    assert set(imported(Path(compiled.__file__))) == {"numpy", "numba", "gramrise.estimate.array_types"}


@pytest.mark.slow
@pytest.mark.parametrize(("name", "by_compiled", "by_numpy"), LOOPS, ids=[name for name, *_ in LOOPS])
def test_a_compiled_loop_gives_the_numbers_of_its_numpy_form(name, by_compiled, by_numpy):
    one, other = by_compiled(), by_numpy()
    assert one.size > 0
    assert one == pytest.approx(other, rel=1e-5, abs=1e-6), np.abs(one - other).max()
