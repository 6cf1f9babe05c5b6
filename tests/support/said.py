"""Every sentence with which our sources refuse or warn, as a template: 'there is no file '{0}''."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

SRC = Path(__file__).parents[2] / "src" / "gramrise"
# What carries sentences for people to the one place that says them.
CARRIERS = frozenset(
    {"WrongUse", "CouldNotRun", "FileRefused", "FileWaits", "Trouble", "OpenPoint", "HealthFinding", "LetterRefused"}
) | {"spoken", "house.say", "house.warn", "prove", "account", "Conclusion", "Order", "Gap"}
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
        constants = dict(_constants(tree))
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and CARRIERS & {named := ast.unparse(call.func), named.split(".")[-1]}:
                for argument in [*call.args, *(each.value for each in call.keywords if each.arg != "code")]:
                    found.update(dict.fromkeys(_templates(argument, constants)))
    return tuple(text for text in found if " " in text.strip() and any(map(str.isalpha, _letters(text))))


def _letters(template: str) -> str:
    return "".join(part.split("}")[-1] for part in template.split("{"))


def _constants(tree: ast.Module) -> Iterator[tuple[str, ast.expr]]:
    for node in tree.body:
        target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
        if isinstance(target, ast.Name) and isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            yield target.id, node.value


def _templates(node: ast.expr, constants: dict[str, ast.expr]) -> Iterator[str]:
    """What an argument may say: both ways of an `if`, and the words that stand in for a value that is missing."""
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.IfExp(body=one, orelse=other):
            yield from (text for each in (one, other) for text in _templates(each, constants))
        case ast.BoolOp(values=values):
            yield from (text for each in values for text in _templates(each, constants))
        case ast.Name(id=name) if name in constants:
            yield from _templates(constants[name], {})
        case ast.JoinedStr() | ast.BinOp():
            yield _numbered("".join(_parts(node, constants)))
            inner = [each.value for each in ast.walk(node) if isinstance(each, ast.FormattedValue)]
            yield from (text for each in inner for text in _templates(each, {}))


def _parts(node: ast.expr, constants: dict[str, ast.expr]) -> Iterator[str]:
    """The constant letters of a sentence, and a mark for each value."""
    match node:
        case ast.BinOp(left=one, right=other):
            parts: list[ast.expr] = [one, other]
        case ast.JoinedStr(values=values):
            parts = values
        case ast.FormattedValue(value=ast.Name(id=name)) if name in constants:
            parts = [constants[name]]
        case ast.Constant(value=value):
            yield str(value)
            return
        case _:
            yield "\0"
            return
    yield from (text for part in parts for text in _parts(part, constants))


def _numbered(template: str) -> str:
    first, *others = template.split("\0")
    return first + "".join(f"{{{number}}}{part}" for number, part in enumerate(others))
