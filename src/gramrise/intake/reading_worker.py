"""The reading process: takes one task after another from its input, and ends with the process that started it."""

import os
import pickle
import re
import resource
import select
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO, Final

from gramrise.domain.problems import place_of
from gramrise.intake.problems import FileTrouble
from gramrise.intake.reading import read_in_this_process
from gramrise.intake.reading_process import LENGTH, Answer, Task
from gramrise.intake.recognition_report import recognise_in_this_process

TASKS: Final[dict[str, Callable[..., Any]]] = {"read": read_in_this_process, "recognise": recognise_in_this_process}
# Our choice: after a file that took this share of the memory allowed, the next one gets a fresh process.
MOST_KEPT_SHARE: Final = 0.3
# Our choice: between two files of one pass less time goes by; a process that waits longer only takes memory.
MOST_IDLE_SECONDS: Final = 60.0


def main() -> None:
    """Answers tasks until the input ends or rests."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the command; the input's end tells this process
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # whatever a library prints must not stand between the answers
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    while (task := _next(sys.stdin.buffer)) is not None:
        _limit(task)
        data = pickle.dumps(_answer(task))
        answers.write(LENGTH.pack(len(data)) + data)
        answers.flush()
        if _most_held_bytes() > MOST_KEPT_SHARE * task.most_memory_bytes:
            return


def _next(tasks: BinaryIO) -> Task | None:
    """The next task; None where the input has ended or nothing came for a while."""
    ready, _, _ = select.select([tasks], [], [], MOST_IDLE_SECONDS)
    if not ready:
        return None
    head = tasks.read(LENGTH.size)
    if len(head) < LENGTH.size:
        return None
    data = tasks.read(LENGTH.unpack(head)[0])
    task = pickle.loads(data)
    assert isinstance(task, Task)
    return task


def _limit(task: Task) -> None:
    """Memory for the process as a whole, and time of work from now on. A system that has no such limit sets none."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    seconds = int(used.ru_utime + used.ru_stime) + 1 + task.most_cpu_seconds
    for which, most in ((resource.RLIMIT_DATA, task.most_memory_bytes), (resource.RLIMIT_CPU, seconds)):
        _, hard = resource.getrlimit(which)
        try:
            resource.setrlimit(which, (most if hard == resource.RLIM_INFINITY else min(most, hard), hard))
        except (OSError, ValueError):
            continue


def _most_held_bytes() -> int:
    """The most memory that this process has held.

    On Linux `ru_maxrss` also counts what the starting process held before this program replaced it, so a large parent
    would make every reading process look full after its first file: VmHWM counts this program alone.
    """
    status = Path("/proc/self/status")
    held = re.search(r"^VmHWM:\s+(\d+) kB", status.read_text("ascii"), re.M) if status.exists() else None
    if held:
        return int(held[1]) * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)


def _answer(task: Task) -> Answer:
    try:
        return Answer("done", TASKS[task.name](*task.arguments))
    except FileTrouble as trouble:
        return Answer("trouble", trouble)
    except MemoryError:
        return Answer("memory", None)
    except Exception as fault:  # noqa: BLE001 - whatever a file does to its reader, it alone is refused
        return Answer("fault", place_of(fault))


if __name__ == "__main__":
    main()
