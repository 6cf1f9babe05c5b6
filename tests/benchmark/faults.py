"""Thousands of damaged files of every sample, read and judged.

Run: python tests/benchmark/faults.py [--files N] [--seed N]      (2,000 unless said otherwise; some 20 a second)
Prints one table of what was tried and what held. The bar: a damaged file ends in good rows or a told trouble, each line
that begins as a row does is offered, and every value that lands stands in the file beside its minute.
"""

import argparse
import sys

import tests_on_path  # noqa: F401
from support.file_mutator import run, table


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--files", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    found = run(given.files, given.seed)
    print(table(found))
    wrong = [f"{name}: {sentence}" for name, one in found.items() for sentence in one.wrong]
    print("\n".join(wrong[:20]))
    print(f"{given.files} damaged files, seed {given.seed} / {'FALLS SHORT' if wrong else 'holds'}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
