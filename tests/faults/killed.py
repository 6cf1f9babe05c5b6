"""Work of the service in processes that are killed at one system call: the worker that `kills.py` talks to.

Reads lines `WORK HOME CALL NUMBER`; for each a child does that work under strace, killed on entering the NUMBER-th call
of that name (`-` 0: never). Answers `whole`, `killed`, or `failed` with what was raised. With CALL `count` it answers
how often each call was made. The libraries are loaded once: a kill falls into the work itself.
"""

import os
import re
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from datetime import timedelta
from pathlib import Path

import gramrise.detect
import gramrise.estimate
import gramrise.intake
import gramrise.nightly.mail.weekly
import gramrise.report.weekly.pages.mail  # noqa: F401 - all loaded before the work begins
from gramrise.domain.problems import GramriseError
from gramrise.nightly import forget_person, restore_home, run_night, take_in_file
from gramrise.nightly.schedule import Looking
from gramrise.nightly.settings import nightly_settings
from gramrise.store import Store, write_backup

sys.path.insert(0, str(Path(__file__).parents[1]))
from support.night_state import SUNDAY

CALLS = (
    *("rename", "renameat", "renameat2", "link", "linkat", "unlink", "unlinkat"),
    *("write", "pwrite64", "fsync", "fdatasync", "ftruncate", "mkdir", "mkdirat"),
)


def do_import(home):
    with Store.open(home) as store:
        for who in ("mia", "tom"):
            for file in sorted((home / "inbox" / who).glob("*.csv")):
                take_in_file(store, home, store.person(who), file, SUNDAY)


def do_nightly(home):
    with Store.open(home) as store:
        run_night(store, home, SUNDAY)


def do_schedule(home):
    if Looking(home, nightly_settings(home), lambda: SUNDAY).look() is None:
        raise SystemExit(3)


def do_backup(home):
    write_backup(home, home / "copy.db")


def do_restore(home):
    restore_home(home, home / "saved.db", SUNDAY + timedelta(hours=1))


def do_forget(home):
    with Store.open(home) as store:
        forget_person(store, home, "mia")


WORK = {
    "import": do_import,
    "nightly": do_nightly,
    "schedule": do_schedule,
    "backup": do_backup,
    "restore": do_restore,
    "restore over damage": do_restore,
    "forget": do_forget,
}


def child_of(work, home, out):
    """Starts a child that waits to be traced and then works; its number."""
    child = os.fork()
    if child:
        return child
    try:
        os.kill(os.getpid(), signal.SIGSTOP)
        WORK[work](home)
    except GramriseError as trouble:
        out.write_text(f"{trouble.code}: {trouble}")
        os._exit(3)
    except BaseException as fault:  # noqa: BLE001 - the child must end here, whatever happened
        out.write_text(repr(fault))
        os._exit(4)
    os._exit(0)


def traced(work, home, call, number, log):
    """Runs the work under strace; how it ended."""
    out = log.with_suffix(".out")
    out.unlink(missing_ok=True)
    child = child_of(work, home, out)
    os.waitpid(child, os.WUNTRACED)
    calls = call if number else ",".join(CALLS)
    words = ["strace", "-f", "-p", str(child), "-o", str(log), "-e", f"trace={calls}"]
    if number:
        words += ["-e", f"inject={calls}:signal=SIGKILL:when={number}"]
    strace = subprocess.Popen(words, stderr=subprocess.PIPE, text=True)
    for line in strace.stderr:
        if "attached" in line:
            break
    os.kill(child, signal.SIGCONT)
    _, status = os.waitpid(child, 0)
    strace.communicate()
    if os.WIFSIGNALED(status):
        return "killed"
    return "whole" if status == 0 else f"failed {out.read_text() if out.exists() else status}".replace("\n", " ")


def counted(log):
    """How often the first thread made each call."""
    lines = log.read_text().split("\n")
    first = lines[0].split()[0]
    names = (re.match(rf"{first}\s+(\w+)\(", line) for line in lines)
    return Counter(found[1] for found in names if found)


def main():
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "calls"
        for line in sys.stdin:
            work, home, call, number = line.rstrip("\n").split("\t")
            if call == "untraced":
                child = child_of(work, Path(home), log)
                os.waitpid(child, os.WUNTRACED)
                os.kill(child, signal.SIGCONT)
                _, status = os.waitpid(child, 0)
                told = "whole" if status == 0 else f"failed {log.read_text() if log.exists() else status}"
                told = told.replace("\n", " ")
            else:
                told = traced(work, Path(home), call, int(number), log)
                if call == "count" and told == "whole":
                    told = " ".join(f"{name}={n}" for name, n in counted(log).items())
            sys.stdout.write(told + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
