"""A disk of every fullness: what is told is a full disk, nothing that was saved is lost, and with room all is done.

The disk is a file system in memory of fixed size with a file in it that leaves so many bytes free. It takes the right
to mount.
"""

import os
import shutil
import subprocess
from contextlib import contextmanager
from dataclasses import dataclass, field

from faults.kills import Homes, Worker, again, readings_of
from gramrise.store import DATABASE_FILE, refuse_damaged

DISK_MB = 24
PAGE = 4096
WORKS = ("import", "nightly", "backup", "restore", "forget")
TRUE_CODES = ("disk_full",)


@dataclass
class Tried:
    """Runs of one work on disks of different fullness: how many were refused, and what did not hold."""

    work: str
    disks: int = 0
    refused: int = 0
    bad: list = field(default_factory=list)


def can_mount(folder):
    """Why no small disk can be made here; '' where it can."""
    try:
        with small_disk(folder):
            return ""
    except (OSError, subprocess.CalledProcessError) as trouble:
        return f"no small file system can be mounted here ({type(trouble).__name__})"


@contextmanager
def small_disk(folder):
    disk = folder / "disk"
    disk.mkdir(parents=True, exist_ok=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK_MB}m", "tmpfs", disk], check=True, capture_output=True)
    try:
        yield disk
    finally:
        subprocess.run(["umount", disk], check=True)


def fill(disk, leave_bytes):
    """A file that leaves so many bytes free, to the page."""
    found = os.statvfs(disk)
    wanted = found.f_bavail * found.f_frsize - leave_bytes
    if wanted > 0:
        with (disk / "filler").open("wb") as filler:
            os.posix_fallocate(filler.fileno(), 0, wanted // PAGE * PAGE)


def used(folder):
    return sum(file.stat().st_blocks * 512 for file in folder.rglob("*") if file.is_file())


def attack(folder, work, disks):
    """One work on disks from full to roomy, in equal steps. Gives what was tried."""
    tried = Tried(work)
    with Worker() as worker, small_disk(folder) as disk:
        homes = Homes(folder / "homes", worker)
        home = homes.begun(work, disk / "home")
        free = os.statvfs(disk).f_bavail * PAGE
        told = worker.ask(work, home)
        if told != "whole":
            tried.bad.append(f"undisturbed: {told}")
            return tried
        needs = min(free, 2 * (free - os.statvfs(disk).f_bavail * PAGE) + 4_000_000)
        expected = homes.outcome(work, home)
        shutil.rmtree(home)
        for number in range(disks):
            home = homes.begun(work, disk / "home")
            before = readings_of(home)
            fill(disk, needs * number // disks // PAGE * PAGE)
            trouble = _on_full_disk(tried, worker, work, home)
            (disk / "filler").unlink(missing_ok=True)
            trouble = trouble or _kept(work, home, before) or again(worker, work, home)
            if not trouble and homes.outcome(work, home) != expected:
                trouble = "with room it came to another state than undisturbed"
            if trouble:
                tried.bad.append(f"{work} with {needs * number // disks} bytes free: {trouble}")
            shutil.rmtree(home)
            tried.disks += 1
    return tried


def _on_full_disk(tried, worker, work, home):
    told = worker.ask(work, home)
    if told == "whole":
        return ""
    tried.refused += 1
    code = told.removeprefix("failed ").partition(":")[0]
    if code not in TRUE_CODES:
        return f"told as '{told[:200]}'"
    return "false: nothing was changed" if "nothing was changed" in told else ""


def _kept(work, home, before):
    """The database is sound, and no reading that was there is gone (but of whom was to be forgotten)."""
    refuse_damaged(home / DATABASE_FILE, whole=True)
    if work == "restore":
        return ""
    after = readings_of(home)
    lost = [who for who, rows in before.items() if work != "forget" and not set(rows) <= set(after.get(who, ()))]
    return f"readings lost of {lost}" if lost else ""
