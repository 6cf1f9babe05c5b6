"""Everything that attacks the service on purpose, in one table: kills, full disks, mail servers, damaged files.

Run: python tests/benchmark/faults.py [--kills N] [--disks N] [--files N] [--seed N] [--only PART] [--works WORK]
Parts: kills, disks, servers, files (some 20 a second; a table of their own follows).
What cannot be tried on this machine is printed as NOT RUN.
"""

import argparse
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from faults import fullness, kills, mail_servers
from support import file_mutator

PARTS = ("kills", "disks", "servers", "files")


def verdict(bad):
    return "holds" if not bad else f"FALLS SHORT ({len(bad)})"


def row(what, tried, bad):
    print(f"| {what} | {tried} | {verdict(bad)} |", flush=True)
    for each in bad[:5]:
        print(f"    {each}", file=sys.stderr, flush=True)
    return len(bad)


def run_kills(folder, number, works):
    why_not = kills.can_kill()
    if why_not:
        print(f"| killed at a system call | NOT RUN: {why_not} | |")
        return 1
    short = 0
    for work in works:
        tried = kills.attack(folder / f"kills-{work}", work, max(1, round(number * kills.SHARES[work])))
        calls = ", ".join(f"{call} {n}" for call, n in sorted(tried.calls.items()))
        short += row(f"{work}: killed at a system call", f"{tried.kills} kills ({calls})", tried.bad)
    return short


def run_disks(folder, number, works):
    why_not = fullness.can_mount(folder)
    if why_not:
        print(f"| disks of every fullness | NOT RUN: {why_not} | |")
        return 1
    short = 0
    for work in works:
        if work in fullness.WORKS:
            tried = fullness.attack(folder / f"disks-{work}", work, number)
            told = f"{tried.disks} disks, {tried.refused} too full"
            short += row(f"{work}: on a disk of every fullness", told, tried.bad)
    return short


def run_servers(folder):
    bad = []
    for number, kind in enumerate(mail_servers.KINDS):
        bad += [f"{kind.name}: {each}" for each in mail_servers.attack(folder / f"server-{number}", kind)]
    return row("mail servers that misbehave", f"{len(mail_servers.KINDS)} kinds", bad)


def run_files(number, seed):
    """A damaged file ends in good rows or a told trouble, and nothing lands that the file does not say."""
    found = file_mutator.run(number, seed)
    bad = [f"{name}: {each}" for name, one in found.items() for each in one.wrong]
    values = sum(one.values for one in found.values())
    short = row("files damaged in many ways", f"{number} files, {values} values judged, seed {seed}", bad)
    print(f"\n{file_mutator.table(found)}", flush=True)
    return short


def main():
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--kills", type=int, default=1000)
    asked.add_argument("--disks", type=int, default=40)
    asked.add_argument("--files", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", nargs="+", choices=PARTS, default=PARTS)
    asked.add_argument("--works", nargs="+", choices=kills.WORKS, default=kills.WORKS)
    given = asked.parse_args()
    print("| what was tried | how much | verdict |\n| --- | --- | --- |", flush=True)
    short = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if "kills" in given.only:
            short += run_kills(folder, given.kills, given.works)
        if "disks" in given.only:
            short += run_disks(folder, given.disks, given.works)
        if "servers" in given.only:
            short += run_servers(folder)
    if "files" in given.only:
        short += run_files(given.files, given.seed)
    raise SystemExit(1 if short else 0)


if __name__ == "__main__":
    main()
