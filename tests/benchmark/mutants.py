"""Mutants of the card, the time bands and the units: how many small faults the tests let live.

    python tests/benchmark/mutants.py [--most N] [--seed S] [--only WORD] [--minutes M]

Each mutant is one change of one file in a copy of the package: a comparison turned to its neighbour or its opposite, a
whole or broken number moved by one (small ones by a tenth), + and - or * and / exchanged, `and` and `or` exchanged,
`not` left out. The tests named beside its file run against the copy and stop at the first failure. A mutant that
every test lets pass lives; those that say the same in other words stand in EXPLAINED, each with why. The bar: at most
5 % live on unexplained. A mutant that could not be tried within the time counts as NOT RUN.
"""

import argparse
import ast
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from os import environ
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[2]
PACKAGE: Final = ROOT / "src" / "gramrise"
MOST_LIVING: Final = 0.05
SECONDS_A_MUTANT: Final = 240

# The quickest first: a mutant dies at the first failure. What paper looks like is not asked here (test_pages).
CARD_TESTS: Final = (
    *(
        f"tests/unit/report/card/test_{name}.py"
        for name in ("predictive", "states", "amounts", "school", "void", "words", "cards_out")
    ),
    "tests/unit/report/card/test_independent_simulation.py",
    "tests/property/card",
)
TESTS: Final = {
    **{
        f"report/card/numbers/{name}.py": CARD_TESTS
        for name in (
            "amounts",
            "build",
            "cells",
            "facts",
            "predictive",
            "response",
            "school",
            "states",
            "validity",
            "void",
        )
    },
    **{f"report/card/pages/{name}.py": CARD_TESTS for name in ("amount_words", "cautions", "face", "withheld")},
    "domain/care_plan.py": CARD_TESTS,
    "domain/dates.py": CARD_TESTS,
    "domain/bands.py": ("tests/unit/domain/test_bands.py", *CARD_TESTS),
    "domain/units.py": ("tests/outside/test_units.py", "tests/unit/domain", *CARD_TESTS),
}

# Mutants that change nothing anybody could see: (file, what stands in the line, what it was changed to), and why.
_BRACKET: Final = "only the bracket in which a quantile is sought grows; the quantile is the same"
_NODES = "one node more or less of a quadrature moves no amount by a hundredth of a gram"
_MICROGRAM: Final = "a slack against rounding: no piece and no mL differs from another by a millionth of a gram"
_CONTINUOUS: Final = "bisection of a continuous function"
_SLACK: Final = "the bound carries a slack of 1e-9 kg; whether it belongs to it no scale shows"
# The change may end with "-> ": any number in its place says the same.
EXPLAINED: Final[dict[tuple[str, str, str], str]] = {
    ("report/card/numbers/facts.py", "off <= rules.plan_rounding + 1e-9", "1e-09 -> "): _MICROGRAM,
    ("report/card/numbers/predictive.py", "@lru_cache(maxsize=64)", "64 -> "): "what is kept is only kept for speed",
    ("report/card/numbers/predictive.py", "doubt.factor_mg_dl_per_g * np.exp(log_rise)", "* -> /"): (
        "the nodes lie evenly about nought: divided by, they are the same rises in the other order"
    ),
    ("report/card/pages/amount_words.py", "0 if view.unit == GlucoseUnit.MG_DL else 1", "0 -> -1"): (
        "fewer decimals than none are none"
    ),
    ("report/card/pages/face.py", "words.factor(band.factor_mg_dl_per_g)[0]", "0 -> -1"): (
        "of one factor it is one number"
    ),
    ("report/card/pages/face.py", "view.weighed_on is None or view.weighed_kg", "or -> and"): (
        "both are told, or neither"
    ),
    ("report/card/numbers/amounts.py", "else max(1, math.ceil(", "1 -> 0"): "nothing wanted has been told before",
    ("report/card/numbers/predictive.py", "z[:, None] + scatter[None, :]", "+ -> -"): (
        "the scatter is the same both ways"
    ),
    ("report/card/numbers/predictive.py", "low = self.from_mg_dl - 8 * sd - 1", "8 -> "): _BRACKET,
    ("report/card/numbers/build.py", "return grams or 0.0", "0.0 -> -1.0"): "no amount is less than nothing",
    ("report/card/numbers/school.py", "plan.standard_grams or 0.0", "0.0 -> -1.0"): "no amount is less than nothing",
    ("report/card/numbers/void.py", "view.target_mg_dl) > 0.05", "0.05 -> "): "a slack below the tenth that is printed",
    ("report/card/numbers/void.py", "view.target_mg_dl) > 0.05", "> -> >="): "a slack below the tenth that is printed",
    ("report/card/pages/amount_words.py", "held / plan_amount.grams - 1) > NOTICED", "> -> >="): (
        "whole pieces are never just three hundredths away, but for rounding"
    ),
    ("report/card/numbers/cells.py", "held <= self.plan.most_grams + SAME_GRAMS", "<= -> <"): _MICROGRAM,
    ("report/card/numbers/amounts.py", "level.chance_below(target_mg_dl", "<= -> <"): _CONTINUOUS,
    ("report/card/numbers/void.py", "now_kg <= low + 1e-9", "<= -> <"): _SLACK,
    ("report/card/numbers/void.py", "now_kg <= low + 1e-9", "1e-09 -> "): _SLACK,
    ("report/card/numbers/states.py", "weights / today - 1).abs() >=", ">= -> >"): (
        "no two weights in tenths of a kilogram lie just a twentieth apart in binary fractions"
    ),
    ("report/card/numbers/amounts.py", "HALVINGS: Final", "24 -> "): "a millionth of a gram more or less",
    ("report/card/numbers/amounts.py", "SAME_GRAMS: Final", "1e-05 -> "): _MICROGRAM,
    ("report/card/numbers/facts.py", "off <= rules.plan_rounding + 1e-9", "<= -> <"): _MICROGRAM,
    (
        "report/card/numbers/amounts.py",
        "needed = most_steps + 1",
        "1 -> 2",
    ): "over what fits is over it",
    ("report/card/numbers/amounts.py", "and level.chance_below(", "<= -> <"): _CONTINUOUS,
    ("report/card/numbers/void.py", "now_kg <= low + 1e-9", ">= -> >"): _SLACK,
    ("report/card/numbers/predictive.py", "8 * sd", "8 -> 9"): _BRACKET,
    ("report/card/numbers/predictive.py", "8 * sd", "1 -> 2"): _BRACKET,
    ("report/card/numbers/predictive.py", "low = self.from_mg_dl - 8 * sd - 1", "- -> +"): _BRACKET,
    ("report/card/numbers/predictive.py", "high, step = high + step, 2 * step", "2 -> "): _BRACKET,
    ("report/card/numbers/predictive.py", "step = self.doubt.factor_mg_dl_per_g", "8 -> "): _BRACKET,
    ("report/card/numbers/predictive.py", "step = self.doubt.factor_mg_dl_per_g", "* -> /"): _BRACKET,
    ("report/card/numbers/predictive.py", "step = self.doubt.factor_mg_dl_per_g", "+ -> -"): _BRACKET,
    ("report/card/numbers/predictive.py", "high, step = high + step, 2 * step", "+ -> -"): (
        "the bracket holds the quantile before: that the loop runs at all, no card needs"
    ),
    ("report/card/numbers/void.py", "SAME_STRENGTH: Final", "0.001 -> "): (
        "a slack against rounding: no strength is printed that finely"
    ),
    ("report/card/numbers/void.py", "/ before_g - 1) > SAME_STRENGTH", "> -> >="): (
        "a slack against rounding: no strength is printed that finely"
    ),
    ("report/card/numbers/predictive.py", "step = ", "1 -> 0"): _BRACKET,
    ("report/card/numbers/predictive.py", "high = self.to_mg_dl + step", "+ -> -"): _BRACKET,
    ("report/card/numbers/predictive.py", "low = self.from_mg_dl - 8 * sd - 1", "1 -> 0"): _BRACKET,
    ("report/card/numbers/predictive.py", "high, step = high + step, 2 * step", "* -> /"): _BRACKET,
    ("report/card/numbers/build.py", "> below + 1e-6", "> -> >="): _MICROGRAM,
    ("report/card/numbers/build.py", "> below + 1e-6", "1e-06 -> "): _MICROGRAM,
    ("report/card/numbers/predictive.py", "FACTOR_NODES: Final", "12 -> 11"): _NODES,
    ("report/card/numbers/predictive.py", "FACTOR_NODES: Final", "12 -> 13"): _NODES,
    ("report/card/numbers/predictive.py", "SCATTER_NODES: Final", "24 -> 23"): _NODES,
    ("report/card/numbers/predictive.py", "SCATTER_NODES: Final", "24 -> 25"): _NODES,
    ("report/card/numbers/predictive.py", "HALVINGS: Final", "30 -> 29"): "a hundred-thousandth of a mg/dL more",
    ("report/card/numbers/predictive.py", "HALVINGS: Final", "30 -> 31"): "a hundred-thousandth of a mg/dL less",
    ("report/card/numbers/predictive.py", "if self._below(middle", "< -> <="): _CONTINUOUS,
    ("report/card/numbers/predictive.py", "while self._below(high", "< -> <="): _BRACKET,
}

NEIGHBOURS: Final = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
EXCHANGED: Final = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
SIGNS: Final = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=", ast.Is: "is",
    ast.IsNot: "is not", ast.In: "in", ast.NotIn: "not in", ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mutant:
    """One fault: the file, its line as it was, what was changed, and the whole text with the fault in it."""

    file: str
    line_number: int
    line: str
    change: str
    text: str


def mutants_of(file: str) -> Iterator[Mutant]:
    """Every mutant of one file, in the order of its lines."""
    text = (PACKAGE / file).read_text("utf-8")
    lines = text.splitlines()
    count = len(list(_places(ast.parse(text))))
    for at in range(count):
        tree = ast.parse(text)
        place, change = list(_places(tree))[at]
        told = change()
        yield Mutant(file, place.lineno, lines[place.lineno - 1].strip(), told, ast.unparse(tree))


def _places(tree: ast.Module):
    """(node, function that makes the change in the tree and says what it was), for every change of the file."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            for i, sign in enumerate(node.ops):
                for other in NEIGHBOURS.get(type(sign), ()):
                    yield node, _compare(node, i, other)
        elif isinstance(node, ast.BinOp) and type(node.op) in EXCHANGED and not _is_type(node):
            yield node, _operator(node)
        elif isinstance(node, ast.BoolOp):
            yield node, _bool(node)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield node, _no_not(node)
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            for step in (1, -1):
                yield node, _number(node, step)


def _is_type(node: ast.BinOp) -> bool:
    return isinstance(node.left, ast.Constant) and isinstance(node.left.value, str)


def _compare(node, i, other):
    def change():
        was, node.ops[i] = SIGNS[type(node.ops[i])], other()
        return f"{was} -> {SIGNS[other]}"

    return change


def _operator(node):
    def change():
        was, node.op = SIGNS[type(node.op)], EXCHANGED[type(node.op)]()
        return f"{was} -> {SIGNS[type(node.op)]}"

    return change


def _bool(node):
    def change():
        was = "and" if isinstance(node.op, ast.And) else "or"
        node.op = ast.Or() if was == "and" else ast.And()
        return f"{was} -> {'or' if was == 'and' else 'and'}"

    return change


def _no_not(node):
    def change():
        node.op = ast.UAdd() if isinstance(node.operand, ast.Constant) else node.op
        inner = node.operand
        node.operand = ast.UnaryOp(ast.Not(), inner)
        return "not -> nothing"

    return change


def _number(node, step):
    def change():
        was = node.value
        node.value = was + step if isinstance(was, int) or abs(was) >= 1 else was * (1 + 0.1 * step) + (was == 0) * step
        return f"{was} -> {node.value}"

    return change


def lives(mutant: Mutant, copy: Path) -> bool | None:
    """Whether every test passes with the fault; None when they did not end in time."""
    place = copy / "gramrise" / mutant.file
    whole = place.read_text("utf-8")
    place.write_text(mutant.text, "utf-8")
    try:
        return passes(TESTS[mutant.file], copy)
    except subprocess.TimeoutExpired:
        return None
    finally:
        place.write_text(whole, "utf-8")


def passes(tests: tuple[str, ...], copy: Path) -> bool:
    """Whether the tests pass against the copy. Raises TimeoutExpired."""
    command = [sys.executable, "-m", "pytest", "-p", "no:xdist", "-p", "no:cacheprovider", "-x", "-q"]
    done = subprocess.run(
        [*command, *tests],
        cwd=ROOT,
        env=environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        timeout=SECONDS_A_MUTANT,
        check=False,
    )
    return done.returncode == 0


def explained(mutant: Mutant) -> str:
    """Why a mutant that lives is no fault; '' where nobody has said so."""
    whys = (why for (file, part, change), why in EXPLAINED.items()
            if file == mutant.file and part in mutant.line and _is_change(change, mutant.change))  # fmt: skip
    return next(whys, "")


def _is_change(told: str, made: str) -> bool:
    return made == told or (told.endswith("-> ") and made.startswith(told))


def chosen(most: int, seed: int, only: str) -> list[Mutant]:
    """At most so many mutants, drawn evenly over the files."""
    everything = [mutant for file in TESTS if only in file for mutant in mutants_of(file)]
    random.Random(seed).shuffle(everything)
    return everything[:most]


def copied(folder: Path) -> Path:
    """A copy of the package beside links to what it reads from the top of the checkout."""
    shutil.copytree(PACKAGE, folder / "gramrise", symlinks=False, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--most", type=int, default=80)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--only", default="")
    words.add_argument("--minutes", type=float, default=60.0)
    asked = words.parse_args()
    ends, living, tried, not_run = time.monotonic() + 60 * asked.minutes, 0, 0, 0
    with tempfile.TemporaryDirectory() as folder:
        copy = copied(Path(folder))
        tests = tuple(dict.fromkeys(test for file in TESTS if asked.only in file for test in TESTS[file]))
        if not passes(tests, copy):
            raise SystemExit(f"NOT RUN: without any fault these tests fail already: {', '.join(tests)}")
        print("without a fault all tests pass", flush=True)
        for mutant in chosen(asked.most, asked.seed, asked.only):
            why = explained(mutant)
            alive = None if time.monotonic() > ends else (False if why else lives(mutant, copy))
            tried, not_run = tried + (alive is not None), not_run + (alive is None)
            if alive:
                living += 1
                where = f"{mutant.file}:{mutant.line_number}"
                print(f"LIVES (of {tried} so far) {where} {mutant.change}: {mutant.line}", flush=True)
            elif alive is None:
                print(f"NOT RUN {mutant.file}:{mutant.line_number} {mutant.change}", flush=True)
    share = living / tried if tried else 1.0
    print(f"{tried} tried, {living} live on unexplained ({100 * share:.1f} %, bar 5 %), {not_run} NOT RUN")
    raise SystemExit(0 if tried and share <= MOST_LIVING else 1)


if __name__ == "__main__":
    main()
