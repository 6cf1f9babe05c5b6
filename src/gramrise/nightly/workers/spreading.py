"""Tasks spread over an executor, and given out again where a worker died with them."""

from collections.abc import Callable, Generator, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from contextlib import AbstractContextManager, suppress
from typing import TYPE_CHECKING, Final

from gramrise.nightly.workers.executors import executor_of, workers_n
from gramrise.nightly.workers.persons import NightOfPersons, PersonDue
from gramrise.nightly.workers.task import Task, work_on

if TYPE_CHECKING:
    from gramrise.nightly.settings import NightlySettings

# Our choice: a worker may die of what another program did. One that dies a third time dies of its persons.
MOST_BROKEN: Final = 3
# Tasks given out for each worker: one it works on, one that waits, so that memory does not grow with the persons.
GIVEN_OUT: Final = 2

Gone = Callable[[Task], NightOfPersons]


def spread(
    tasks: list[Task],
    settings: "NightlySettings",
    gone: Gone,
    stop: Callable[[], bool],
    work: Callable[[Task], NightOfPersons] = work_on,
) -> Iterator[NightOfPersons]:
    """What came of each task, as it comes. Tasks that died with their worker are given to a fresh one.

    gone   called with a task of one person whose worker died each time: what is to be said of it
    stop   asked between tasks; when it says so no more are given out
    """
    waiting = list(tasks)
    for _ in range(MOST_BROKEN):
        if not waiting or stop():
            return
        waiting = yield from _given_out(executor_of(settings), waiting, workers_n(settings), stop, work)
    for task in waiting:
        for each in task.due:
            if stop():
                return
            yield _alone(settings, _of_one(task, each), gone, work)


def _given_out(
    opened: AbstractContextManager[Executor],
    tasks: list[Task],
    workers: int,
    stop: Callable[[], bool],
    work: Callable[[Task], NightOfPersons],
) -> Generator[NightOfPersons, None, list[Task]]:
    """Yields what came of the tasks, and returns those whose worker died."""
    died: list[Task] = []
    left = list(reversed(tasks))
    with opened as executor:
        out: dict[Future[NightOfPersons], Task] = {}
        while left or out:
            while left and len(out) < GIVEN_OUT * workers and not stop():
                task = left.pop()
                try:
                    out[executor.submit(work, task)] = task
                except (RuntimeError, OSError):  # a pool that lost a process takes nothing more
                    died += [task, *reversed(left)]
                    left = []
            if not out:
                break
            done, _ = wait(out, return_when=FIRST_COMPLETED)
            for future in done:
                task = out.pop(future)
                if future.exception() is None:
                    yield future.result()
                else:
                    died.append(task)
    return died


def _alone(
    settings: "NightlySettings", task: Task, gone: Gone, work: Callable[[Task], NightOfPersons]
) -> NightOfPersons:
    """One person with a worker of their own."""
    with suppress(Exception), executor_of(settings, most=1) as executor:
        return executor.submit(work, task).result()
    return gone(task)


def _of_one(task: Task, each: PersonDue) -> Task:
    return Task(task.home, task.now_utc, task.run_id, task.mark, (each,))
