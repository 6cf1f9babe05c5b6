"""Every test compares something, whatever was drawn or read, and reaches for no private name of the package."""

import ast
from pathlib import Path

import pytest
from support.sure_checks import private_uses, unsure_tests

MAY_COMPARE_NOTHING = """
def test_a_loop_that_may_not_run():
    for low in lows():
        assert low < 70

def test_a_branch_that_may_not_be_taken():
    if lows():
        assert lows() == [65]

def test_a_way_out_before_the_check():
    if not lows():
        return
    assert lows() == [65]

def test_no_check_at_all():
    lows()
"""
COMPARES = """
LEVELS = (54, 70)

def one_is_low(low):
    assert low < 70

def test_a_least_number_is_asked_for_first():
    found = lows()
    assert found
    for low in found:
        assert low < 70

def test_a_loop_over_a_literal():
    for level in LEVELS:
        assert level < 100

def test_both_branches():
    if lows():
        assert True
    else:
        assert False

def test_a_helper_that_checks():
    one_is_low(65)

def test_an_error_that_must_come():
    with pytest.raises(ValueError):
        lows()
"""
REACHES_IN = """
from gramrise.detect import lows
from gramrise.detect.lows import _oldest
from gramrise import __version__

lows._newest()
"""


def written(folder: Path, text: str) -> list[Path]:
    file = folder / "test_made_up.py"
    file.write_text(text, "utf-8")
    return [file]


def test_every_test_surely_compares_something() -> None:
    assert unsure_tests() == []


def test_no_test_reaches_for_a_private_name_of_the_package() -> None:
    assert private_uses() == []


@pytest.mark.parametrize(("text", "all_are_found"), [(MAY_COMPARE_NOTHING, True), (COMPARES, False)])
def test_the_search_finds_tests_that_may_compare_nothing_and_no_others(
    tmp_path: Path, text: str, all_are_found: bool
) -> None:
    names = [node.name for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef)]
    tests = [name for name in names if name.startswith("test_")]
    assert len(tests) >= 4
    assert unsure_tests(written(tmp_path, text)) == (tests if all_are_found else [])


def test_the_search_finds_private_names(tmp_path: Path) -> None:
    found = private_uses(written(tmp_path, REACHES_IN))
    assert found == ["test_made_up.py:3 _oldest", "test_made_up.py:6 _newest"]
