"""Finds tests that may compare nothing: every assertion stands in a loop or a branch that may be passed by.

A test surely compares something if an assertion stands in its body, in a `with`, in both branches of an `if`, or in a
loop over a literal that is not empty; or if it calls, in such a place, a function that surely compares something.
"""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
Function = ast.FunctionDef | ast.AsyncFunctionDef
# Calls that fail by themselves where what they state does not hold.
CHECKING_CALLS = {
    "raises",
    "warns",
    "fail",
    "check_call",
    "assert_frame_equal",
    "assert_series_equal",
    "assert_allclose",
}


def unsure_tests(files: list[Path] | None = None) -> list[str]:
    """`folder/file.py::test` of each test that may compare nothing."""
    shared = _sure_functions(list((TESTS / "support").glob("*.py")))
    found = []
    for file in files or sorted(TESTS.rglob("test_*.py")):
        tree = _parsed(file)
        sure = shared | _sure_functions([file])
        literals = _literals(tree)
        for test in _tests(tree):
            if not _surely_compares(test.body, sure, literals | _literals(test)) or _leaves_early(test):
                found.append(f"{file.relative_to(TESTS)}::{test.name}" if file.is_relative_to(TESTS) else test.name)
    return found


def private_uses(files: list[Path] | None = None) -> list[str]:
    """`folder/file.py:line name` of each private name of the package that a test or a helper reaches for."""
    found = []
    for file in files or sorted(TESTS.rglob("*.py")):
        tree = _parsed(file)
        modules = _names_of_ours(tree)
        for node in ast.walk(tree):
            names: list[str] = []
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("gramrise"):
                names = [alias.name for alias in node.names if _is_private(alias.name)]
            elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in modules:
                names = [node.attr] if _is_private(node.attr) else []
            where = file.relative_to(TESTS) if file.is_relative_to(TESTS) else file.name
            found += [f"{where}:{node.lineno} {name}" for name in names]
    return found


@cache
def _parsed(file: Path) -> ast.Module:
    return ast.parse(file.read_text("utf-8"))


def _tests(tree: ast.Module) -> Iterator[Function]:
    for node in ast.walk(tree):
        if isinstance(node, Function) and node.name.startswith("test_"):
            yield node


def _sure_functions(files: list[Path]) -> set[str]:
    """Names of the functions that surely compare something, those that call another such function too."""
    functions, literals = [], set()
    for file in files:
        tree = _parsed(file)
        literals |= _literals(tree)
        functions += [node for node in ast.walk(tree) if isinstance(node, Function)]
    sure: set[str] = set()
    while True:
        more = {each.name for each in functions if _surely_compares(each.body, sure, literals)}
        if more <= sure:
            return sure
        sure |= more


def _surely_compares(body: list[ast.stmt], sure: set[str], literals: set[str]) -> bool:
    return any(_compares(statement, sure, literals) for statement in body)


def _compares(statement: ast.stmt, sure: set[str], literals: set[str]) -> bool:
    found = isinstance(statement, ast.Assert)
    match statement:
        case ast.With(items=items, body=body):
            found = any(_calls_a_check(item.context_expr, sure) for item in items)
            found = found or _surely_compares(body, sure, literals)
        case ast.Try(body=body, finalbody=last):
            found = _surely_compares([*body, *last], sure, literals)
        case ast.If(body=body, orelse=other):
            found = _surely_compares(body, sure, literals) and _surely_compares(other, sure, literals)
        case ast.For(iter=over, body=body):
            found = _surely_runs(over, literals) and _surely_compares(body, sure, literals)
        case ast.Expr() | ast.Assign() | ast.AnnAssign() | ast.Return() if statement.value is not None:
            found = _calls_a_check(statement.value, sure)
    return found


def _calls_a_check(value: ast.expr, sure: set[str]) -> bool:
    for node in ast.walk(value):
        if isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            if name in CHECKING_CALLS or name in sure:
                return True
    return False


def _surely_runs(over: ast.expr, literals: set[str]) -> bool:
    """Whether a loop over this runs at least once, as far as can be read from the source."""
    runs = False
    match over:
        case ast.Tuple(elts=elements) | ast.List(elts=elements) | ast.Set(elts=elements):
            runs = any(not isinstance(each, ast.Starred) for each in elements)
        case ast.Dict(keys=keys):
            runs = bool(keys)
        case ast.Constant(value=str() as text):
            runs = bool(text)
        case ast.Name(id=name):
            runs = name in literals or _is_a_class(name)
        case ast.Call(func=ast.Name(id="range"), args=arguments):
            numbers = [each.value for each in arguments if isinstance(each, ast.Constant)]
            runs = len(numbers) == len(arguments) and len(range(*numbers)) > 0
        case ast.Call(func=ast.Name(id="zip"), args=arguments, keywords=[ast.keyword(arg="strict")]):
            runs = any(_surely_runs(each, literals) for each in arguments)
        case ast.Call(func=ast.Name(id="enumerate" | "sorted" | "reversed" | "list"), args=[first, *_]):
            runs = _surely_runs(first, literals)
        case ast.Call(func=ast.Attribute(value=inner, attr="items" | "values" | "keys" | "split")):
            runs = _surely_runs(inner, literals)
    return runs


def _is_a_class(name: str) -> bool:
    """A name like GlucoseUnit: only enums are looped over by their class, and they have members."""
    return name[0].isupper() and not name.isupper()


def _literals(tree: ast.Module | Function) -> set[str]:
    """Names bound once, at the top of this module or function, to a literal that is not empty."""
    bound: dict[str, bool] = {}
    for node in tree.body:
        if isinstance(node, ast.Assign) and len(node.targets) == 1 and isinstance(node.targets[0], ast.Name):
            name = node.targets[0].id
            bound[name] = name not in bound and _surely_runs(node.value, set())
    return {name for name, sure in bound.items() if sure}


def _leaves_early(test: Function) -> bool:
    """A `return` in a test passes by every assertion after it."""
    inner = {
        id(node)
        for each in ast.walk(test)
        if isinstance(each, Function | ast.Lambda) and each is not test
        for node in ast.walk(each)
    }
    return any(isinstance(node, ast.Return) and id(node) not in inner for node in ast.walk(test))


def _names_of_ours(tree: ast.Module) -> set[str]:
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("gramrise"):
            names |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, ast.Import):
            names |= {alias.asname for alias in node.names if alias.asname and alias.name.startswith("gramrise")}
    return names


def _is_private(name: str) -> bool:
    return name.startswith("_") and not name.startswith("__")


if __name__ == "__main__":
    print("\n".join([*unsure_tests(), *private_uses()]))
