"""Prints what intake makes of tables of known truth: python tests/benchmark/table_variants.py [SEEDS] [--show]."""

import sys
import tempfile
from collections import Counter
from dataclasses import replace
from pathlib import Path

import tests_on_path  # noqa: F401 - before the first import of `support`
from support.strange_tables import STRANGE_FAMILIES
from support.strangers_cases import CASES
from support.table_variants import ASKED_NEEDLESSLY, FAMILIES, LOST, VERDICTS, WRONG, drawn_tables, verdict_of


def main(seeds: int, show: bool) -> None:
    """Draws the tables, counts the verdicts by label and family, and shows the tables that went wrong."""
    counts: Counter[tuple[str, str]] = Counter()
    families: Counter[tuple[str, str]] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        single = ((0, "", replace(case.drawn(), family="strangers' cases")) for case in CASES)
        for seed, language, drawn in (*drawn_tables(range(seeds), (*FAMILIES, *STRANGE_FAMILIES)), *single):
            verdict, why = verdict_of(drawn, Path(folder))
            counts[drawn.label, verdict] += 1
            families[drawn.family, verdict] += 1
            if verdict in {WRONG, LOST} or (show and verdict == ASKED_NEEDLESSLY):
                print(f"{verdict}: {drawn.name} [{language}, seed {seed}] {why}")
    print(f"{'label':8}{'tables':>8}" + "".join(f"{verdict:>18}" for verdict in VERDICTS))
    for label in ("read", "ask"):
        row = [counts[label, verdict] for verdict in VERDICTS]
        print(f"{label:8}{sum(row):8}" + "".join(f"{count:18}" for count in row))
    for family in sorted({name for name, _ in families}):
        row = [families[family, verdict] for verdict in VERDICTS]
        print(f"  {family:24}{sum(row):6}" + "".join(f"{count:18}" for count in row))


if __name__ == "__main__":
    numbers = [int(argument) for argument in sys.argv[1:] if argument.isdigit()]
    main(numbers[0] if numbers else 6, "--show" in sys.argv)
