"""kill -9 on entering each system call that renames, writes or syncs, and what the next run then makes of the home."""

import random
import shutil
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from support.night_state import copy_of, make_home, state_of

from gramrise.domain.problems import CouldNotRun
from gramrise.store import Store, refuse_damaged, write_backup

WORKER = Path(__file__).with_name("killed.py")
WORKS = ("import", "nightly", "schedule", "backup", "restore", "restore over damage", "forget")
# How the kills of a long run are shared out: most where a run is quick.
SHARES = {
    "import": 0.22,
    "nightly": 0.06,
    "schedule": 0.04,
    "backup": 0.16,
    "restore": 0.22,
    "restore over damage": 0.12,
    "forget": 0.18,
}


def can_kill():
    """Why no process can be killed at a system call here; '' where it can."""
    if shutil.which("strace") is None:
        return "no strace on this machine"
    tried = subprocess.run(["strace", "-f", "-e", "trace=write", "true"], capture_output=True, check=False)
    return "" if tried.returncode == 0 else "strace may trace nothing here"


@dataclass
class Tried:
    """Kills of one work: how many, at how many different calls, and what did not hold."""

    work: str
    kills: int = 0
    calls: Counter = field(default_factory=Counter)
    bad: list = field(default_factory=list)


class Worker:
    """The process whose children are killed."""

    def __init__(self):
        self.process = subprocess.Popen(
            [sys.executable, str(WORKER)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.communicate()

    def ask(self, work, home, call="untraced", number=0):
        self.process.stdin.write(f"{work}\t{home}\t{call}\t{number}\n")
        self.process.stdin.flush()
        return self.process.stdout.readline().strip()


def readings_of(home):
    with Store.open(home) as store:
        return {person.person_id: store.inputs(person.person_id).readings.rows() for person in store.persons()}


class Homes:
    """The home each work begins in, and what an undisturbed run leaves."""

    def __init__(self, folder, worker):
        self.folder, self.worker = folder, worker
        self.new = make_home(folder / "new", days=1)
        self.lived = self._lived()
        self.expected = {}

    def _lived(self):
        """A home after its night, with a backup from before it, so that both differ."""
        home = copy_of(self.new, self.folder / "lived")
        write_backup(home, home / "saved.db")
        assert self.worker.ask("nightly", home) == "whole"
        (home / "reports").mkdir(exist_ok=True)
        for name in ("mia-2026-03-08.pdf", ".mia-2026-03-01.pdf.growing"):
            (home / "reports" / name).write_bytes(b"of mia")
        (home / "backups").mkdir(exist_ok=True)
        write_backup(home, home / "backups" / "before-step-after-0001.db")
        return home

    def begun(self, work, to):
        """A copy of the home that this work begins in."""
        home = copy_of(self.new if work in {"import", "nightly", "schedule"} else self.lived, to)
        if work == "restore over damage":
            for side in home.glob("gramrise.db-*"):
                side.unlink()
            content = bytearray((home / "gramrise.db").read_bytes())
            content[4096:9000] = b"x" * 4904
            (home / "gramrise.db").write_bytes(content)
        return home

    def outcome(self, work, home):
        """What a run of this work leaves, in a form that can be compared."""
        if work in {"nightly", "schedule"}:
            return state_of(home)
        if work == "import":
            with Store.open(home) as store:
                rows = {
                    who: [getattr(store.inputs(who), name).rows() for name in ("readings", "doses")]
                    for who in ("mia", "tom")
                }
                counts = sorted((each["file"], each["person_id"], each["added"]) for each in store.imports())
                return rows, counts, len(store.quarantine())
        if work == "forget":
            readings = readings_of(home)  # first: what a killed command left in SQLite's log goes with the next one
            left = [file for file in home.rglob("*") if file.is_file() and file.name != "saved.db"]
            holding = [f.name for f in left if f.name != "gramrise.toml" and b"mia" in f.read_bytes()]
            return readings, holding, [f.name for f in left if "mia" in f.name]
        if work == "backup":
            refuse_damaged(home / "copy.db", whole=True)
            other = home / "other"
            other.mkdir()
            shutil.copy(home / "copy.db", other / "gramrise.db")
            return readings_of(other)
        return readings_of(home), (home / "gramrise.db.coming").exists()


def after_kill(work, home, before, expected):
    """What must hold at once, before anything is run again. '' where it does."""
    if work == "restore":
        try:
            found = readings_of(home)
        except CouldNotRun as trouble:
            return f"a sound database cannot be opened: {trouble}"
        return "" if found in (before, expected[0]) else "neither the old nor the restored readings"
    if work == "restore over damage":
        try:
            return "" if readings_of(home) == expected[0] else "something else than the restored readings"
        except CouldNotRun as trouble:
            known = trouble.code in {"restore_cut_off", "database_damaged"}
            return "" if known else f"told as {trouble.code}"
    if work == "backup" and (home / "copy.db").exists():
        refuse_damaged(home / "copy.db", whole=True)
    return ""


def again(worker, work, home):
    """Runs the work once more. '' where it came to its end, or had been done already."""
    if work == "backup" and (home / "copy.db").exists():
        return ""
    told = worker.ask(work, home)
    # Cut off after its last step, the forgetting was done: nobody of that id is known or noted any more.
    done = told == "whole" or (work == "forget" and told.startswith("failed person_unknown"))
    return "" if done else told


def chosen_moments(made, kills, draw):
    """(call, number) to be killed at: calls that are rare (a rename among thousands of writes) are all tried first."""
    moments = []
    for left, call in zip(range(len(made), 0, -1), sorted(made, key=made.get), strict=True):
        share = min(made[call], max(1, (kills - len(moments)) // left))
        moments += [(call, n + 1) for n in sorted(draw.sample(range(made[call]), share))]
    every = [(call, n + 1) for call, many in made.items() for n in range(many)]
    return (moments + [draw.choice(every) for _ in range(kills - len(moments))])[:kills]


def attack(folder, work, kills, seed=1):
    """Kills one work at so many calls, spread over all of them."""
    tried = Tried(work)
    with Worker() as worker:
        homes = Homes(folder / "homes", worker)
        home = homes.begun(work, folder / "undisturbed")
        counts = worker.ask(work, home, "count")
        if "=" not in counts:
            tried.bad.append(f"undisturbed: {counts}")
            return tried
        expected = homes.outcome(work, home)
        before = readings_of(homes.lived)
        made = {call: int(many) for call, many in (part.split("=") for part in counts.split())}
        for number, (call, n) in enumerate(chosen_moments(made, kills, random.Random(seed))):
            home = homes.begun(work, folder / f"home-{number}")
            if worker.ask(work, home, call, n) == "killed":
                tried.kills += 1
                tried.calls[call] += 1
            trouble = after_kill(work, home, before, expected) or again(worker, work, home)
            if not trouble and homes.outcome(work, home) != expected:
                trouble = f"another state than undisturbed: {homes.outcome(work, home)}"[:300]
            if trouble:
                tried.bad.append(f"{work} killed at {call} {n}: {trouble}")
            shutil.rmtree(home)
    return tried
