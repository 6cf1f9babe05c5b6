"""A process of its own for files whose reading may need any amount of memory or time, or may crash.

Workbooks, archives, JSON and whatever large must be held whole are read there (`reading_worker`), within the limits of
config/intake.toml. What kills that process costs its own file only. One process is kept warm for the files that follow.
"""

import atexit
import os
import pickle
import select
import signal
import struct
import subprocess
import sys
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final

from gramrise.intake.problems import FileRefused, FileTrouble, unreadable
from gramrise.intake.settings import IntakeSettings

WORKER: Final = "gramrise.intake.reading_worker"
LENGTH: Final = struct.Struct("<Q")
# Our choice: a disk may keep a process waiting so many times longer than it works.
WALL_PER_CPU: Final = 5
CHUNK: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class Task:
    """What is asked of the reading process: a function of `gramrise.intake.reading_worker` and its arguments."""

    name: str
    arguments: tuple[Any, ...]
    most_memory_bytes: int
    most_cpu_seconds: int


@dataclass(frozen=True, slots=True)
class Answer:
    """`kind` is done | trouble | memory | fault; `content` is the result, the trouble, or the fault's place."""

    kind: str
    content: Any


class _Ended(Exception):
    """The reading process ended, or was ended, before it answered."""

    def __init__(self, status: int | None) -> None:
        super().__init__(status)
        self.status = status  # None: it took too long


class ReadingProcess:
    """The warm process: started at the first file, ended by `close` or with this one, started anew after a death."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._owner = 0
        self._lock = threading.Lock()

    def ask(self, name: str, arguments: tuple[Any, ...], file: str, settings: IntakeSettings) -> Any:
        """The result of a task. Raises the task's own FileTrouble, or FileRefused where it could not be ended."""
        task = Task(name, arguments, settings.most_reading_memory_bytes, settings.most_reading_cpu_seconds)
        with self._lock:
            try:
                answer = self._answer(task)
            except _Ended as ended:
                self._end()
                if ended.status != 0:
                    raise _killed(ended.status, file, settings) from None
                answer = self._again(task, file, settings)  # it had gone by itself, as it does when it has rested
        if answer.kind == "done":
            return answer.content
        raise _trouble(answer, file, settings)

    @property
    def pid(self) -> int | None:
        """The number of the process now warm; None where there is none."""
        return None if self._process is None else self._process.pid

    def close(self) -> None:
        """Ends the process; the next file starts another."""
        with self._lock:
            self._end()

    def _again(self, task: Task, file: str, settings: IntakeSettings) -> Answer:
        try:
            return self._answer(task)
        except _Ended as ended:
            self._end()
            raise _killed(ended.status, file, settings) from None

    def _answer(self, task: Task) -> Answer:
        process = self._running()
        assert process.stdin is not None
        assert process.stdout is not None
        data = pickle.dumps(task)
        try:
            process.stdin.write(LENGTH.pack(len(data)) + data)
            process.stdin.flush()
        except BrokenPipeError:
            raise _Ended(process.wait()) from None
        until = time.monotonic() + WALL_PER_CPU * task.most_cpu_seconds
        (size,) = LENGTH.unpack(_read(process, LENGTH.size, until))
        answer = pickle.loads(_read(process, size, until))
        assert isinstance(answer, Answer)
        return answer

    def _running(self) -> "subprocess.Popen[bytes]":
        if self._process is not None and self._owner == os.getpid() and self._process.poll() is None:
            return self._process
        # One thread: more would cost memory for nothing. -P: no module is taken from the folder at hand.
        environment = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path)), "POLARS_MAX_THREADS": "1"}
        self._owner = os.getpid()
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", WORKER],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # what a library says as it dies may quote a value
            env=environment,
        )
        return self._process

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None or self._owner != os.getpid():
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with suppress(BrokenPipeError):
                    pipe.close()


def _read(process: "subprocess.Popen[bytes]", size: int, until: float) -> bytes:
    assert process.stdout is not None
    data = bytearray()
    while len(data) < size:
        ready, _, _ = select.select([process.stdout], [], [], max(0.0, until - time.monotonic()))
        if not ready:
            raise _Ended(None)
        read = os.read(process.stdout.fileno(), min(CHUNK, size - len(data)))
        if not read:
            raise _Ended(process.wait())
        data += read
    return bytes(data)


def _trouble(answer: Answer, file: str, settings: IntakeSettings) -> FileTrouble:
    if answer.kind == "trouble":
        assert isinstance(answer.content, FileTrouble)
        return answer.content
    if answer.kind == "memory":
        return _too_much_memory(file, settings)
    return unreadable(file, str(answer.content))


def _killed(status: int | None, file: str, settings: IntakeSettings) -> FileRefused:
    if status is None or status == -signal.SIGXCPU:
        return FileRefused(
            "too_much_time",
            file,
            f"reading it was ended after {settings.most_reading_cpu_seconds} seconds of work",
            "save it again with fewer entries, or as CSV",
        )
    if status in {-signal.SIGABRT, -signal.SIGKILL, -signal.SIGSEGV, -signal.SIGBUS}:
        return _too_much_memory(file, settings)
    return unreadable(file, f"the reading process ended with {status}")


def _too_much_memory(file: str, settings: IntakeSettings) -> FileRefused:
    return FileRefused(
        "too_much_memory",
        file,
        f"reading it needs more than the {settings.most_reading_memory_bytes // 1_000_000} MB of memory allowed, or "
        "breaks the reader",
        "look what is in it; save it again with fewer cells, or as CSV",
    )


reading_process = ReadingProcess()
atexit.register(reading_process.close)
