"""Who works: a `concurrent.futures.Executor`, by what the settings name. None of them is ours."""

import multiprocessing
import os
import signal
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING, Any

from gramrise.domain.problems import CouldNotRun

if TYPE_CHECKING:
    from gramrise.nightly.settings import NightlySettings

# One thread a worker: sums repeat to the last digit, and workers do not take each other's cores.
ONE_THREAD = ("POLARS_MAX_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")


def workers_n(settings: "NightlySettings") -> int:
    """How many persons are worked on at once."""
    return settings.worker_processes or os.cpu_count() or 1


@contextmanager
def executor_of(settings: "NightlySettings", most: int | None = None) -> Iterator[Executor]:
    """An executor on this machine's cores or on a cluster; it ends with the block, with what was not begun.

    most    no more workers than this
    """
    count = min(workers_n(settings), most or workers_n(settings))
    if settings.workers == "dask":
        with _dask(settings, count) as executor:
            yield executor
        return
    # Begun anew, not forked: a fork would share the open connections and locks of this process.
    context = multiprocessing.get_context("spawn")
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(count, mp_context=context, initializer=_begin)
    try:
        yield pool
    finally:
        if _is_broken(pool):
            _end_at_once(set(multiprocessing.active_children()) - others)
        pool.shutdown(wait=True, cancel_futures=True)


def _is_broken(pool: ProcessPoolExecutor) -> bool:
    """Whether a pool lost a process, and so takes nothing more."""
    try:
        pool.submit(int).cancel()
    except (RuntimeError, OSError):
        return True
    return False


def _end_at_once(processes: Iterable[BaseProcess]) -> None:
    """Ends what is left of a broken pool. The pool asks them to, but waits for ever for one that did not hear it."""
    for process in processes:
        if process.pid is not None:
            with suppress(ProcessLookupError):
                os.kill(process.pid, signal.SIGKILL)


def _begin() -> None:
    # The schedule holds back the signals to stop, and whoever it starts inherits that: workers must hear them.
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM, signal.SIGINT})
    for name in ONE_THREAD:  # read by the libraries when they are first loaded, which is later
        os.environ[name] = "1"


@contextmanager
def _dask(settings: "NightlySettings", count: int) -> Iterator[Any]:
    try:
        from distributed import Client, LocalCluster
    except ModuleNotFoundError as absent:
        raise CouldNotRun(
            "the library for clusters is not installed",
            "pip install 'gramrise[cluster]', or workers = \"processes\" under [nightly] in gramrise.toml",
            "driver_missing",
        ) from absent
    if settings.dask_scheduler:
        with Client(settings.dask_scheduler) as client:
            yield client.get_executor(pure=False, retries=0)
        return
    local = LocalCluster(
        n_workers=count,
        threads_per_worker=1,
        host="127.0.0.1",
        dashboard_address=None,
        env=dict.fromkeys(ONE_THREAD, "1"),
    )
    with local as cluster, Client(cluster) as client:
        yield client.get_executor(pure=False, retries=0)
