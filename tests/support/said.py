"""Every sentence with which our sources refuse or warn, as a template: 'there is no file '{0}''."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

SRC = Path(__file__).parents[2] / "src" / "gramrise"
# What carries sentences for people to the one place that says them.
CARRIERS = frozenset({"WrongUse", "CouldNotRun", "FileRefused", "Trouble", "HealthFinding", "LetterRefused"})
# Rooms that speak for themselves, in both languages; the cluster's and the server's words are for who runs them.
NOT_HERE = ("web/", "store/postgres/", "nightly/workers/")


@cache
def said() -> tuple[str, ...]:
    """All templates, each once, values numbered in their order."""
    found: dict[str, None] = {}
    for file in sorted(SRC.rglob("*.py")):
        if file.relative_to(SRC).as_posix().startswith(NOT_HERE):
            continue
        tree = ast.parse(file.read_text(encoding="utf-8"))
        constants = {
            node.targets[0].id if isinstance(node, ast.Assign) else node.target.id: node.value
            for node in tree.body
            if (isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name))
            or (isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.value)
        }
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and ast.unparse(call.func).split(".")[-1] in CARRIERS:
                for argument in [*call.args, *(each.value for each in call.keywords if each.arg != "code")]:
                    found.update(dict.fromkeys(_templates(argument, constants)))
    return tuple(text for text in found if " " in text.strip() and any(map(str.isalpha, _letters(text))))


def _letters(template: str) -> str:
    return "".join(part.split("}")[-1] for part in template.split("{"))


def _templates(node: ast.expr, constants: dict[str, ast.expr]) -> Iterator[str]:
    """What an argument may say: both ways of an `if`, and the words that stand in for a value that is missing."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _templates(node.body, constants)
        yield from _templates(node.orelse, constants)
    elif isinstance(node, ast.BoolOp):
        for value in node.values:
            yield from _templates(value, constants)
    elif isinstance(node, ast.Name) and node.id in constants:
        yield from _templates(constants[node.id], {})
    elif isinstance(node, ast.JoinedStr | ast.BinOp):
        yield _numbered("".join(_parts(node, constants)))
        for value in ast.walk(node):
            if isinstance(value, ast.FormattedValue):
                yield from _templates(value.value, {})


def _parts(node: ast.expr, constants: dict[str, ast.expr]) -> Iterator[str]:
    if isinstance(node, ast.BinOp):
        yield from _parts(node.left, constants)
        yield from _parts(node.right, constants)
    elif isinstance(node, ast.JoinedStr):
        for part in node.values:
            yield from _parts(part, constants)
    elif isinstance(node, ast.Constant):
        yield str(node.value)
    elif isinstance(node, ast.FormattedValue) and isinstance(node.value, ast.Name) and node.value.id in constants:
        yield from _parts(constants[node.value.id], {})
    else:
        yield "\0"


def _numbered(template: str) -> str:
    first, *others = template.split("\0")
    return first + "".join(f"{{{number}}}{part}" for number, part in enumerate(others))
