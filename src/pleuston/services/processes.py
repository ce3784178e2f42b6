"""Processes that do jobs: started apart from the app, kept warm, and replaced when they die."""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures import wait as futures_wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import wait
from typing import Any

from pleuston.services.kinds import Effort

GRACE = 3.0
"""Seconds that processes have to end by themselves."""
WAIT_MOST = 30.0
"""Seconds before a process that could not be started is tried again, at most."""
NICENESS = 5
"""How far these processes give way to the app."""
LOG = logging.getLogger("pleuston.jobs")


def _prepare(niceness: int) -> None:
    """Ready a new process: it leaves Ctrl-C to the app, gives way to it, and ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if niceness and hasattr(os, "nice"):
        os.nice(niceness)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(parent: int) -> None:
    wait([parent])
    os._exit(1)


def _warm(address: str) -> int:
    """Load all that jobs need; gives the number of this process."""
    from pleuston.services.job_work import database

    database(address)
    return os.getpid()


def _work(address: str, job: str, effort: Effort) -> str:
    from pleuston.services.job_work import work

    return work(address, job, effort)


class Hand:
    """One process that does one job at a time; a new one comes in place of one that died."""

    def __init__(
        self, address: str, effort: Effort, niceness: int, rang: Callable[[], None]
    ) -> None:
        self.address, self.effort, self.niceness, self.rang = address, effort, niceness, rang
        self.pool: ProcessPoolExecutor | None = None
        self.process, self.job = 0, ""
        self.future: Future[Any] | None = None
        self.failures, self.not_before = 0, 0.0

    @property
    def is_free(self) -> bool:
        """Whether it can be given a job at once."""
        return self.process > 0 and self.future is None

    def start(self) -> None:
        """Start the process, unless it is there or failed to start a moment ago."""
        if self.pool is not None or time.monotonic() < self.not_before:
            return
        context = multiprocessing.get_context("spawn")
        self.pool = ProcessPoolExecutor(
            1, mp_context=context, initializer=_prepare, initargs=(self.niceness,)
        )
        self._submit(_warm, self.address)

    def give(self, job: str) -> None:
        """Let it do a job that it holds."""
        self.job = job
        self._submit(_work, self.address, job, self.effort)

    def _submit(self, call: Callable[..., Any], *given: Any) -> None:
        assert self.pool is not None
        try:
            self.future = self.pool.submit(call, *given)
        except BrokenProcessPool as error:
            self.future = Future()
            self.future.set_exception(error)
        self.future.add_done_callback(lambda _: self.rang())

    def settle_start(self, most: float) -> None:
        """Wait until a process that is being started is there, for some seconds at most."""
        if self.pool is not None and self.process == 0 and self.future is not None:
            futures_wait([self.future], most)
            self.settle()

    def settle(self) -> str:
        """Take note of what has ended; gives the job of a process that died, or nothing."""
        if self.future is None or not self.future.done():
            return ""
        error, warmed = self.future.exception(), self.process == 0
        if error is None:
            self.process = self.future.result() if warmed else self.process
            self.future, self.job, self.failures = None, "", 0
            return ""
        if not isinstance(error, BrokenProcessPool):
            LOG.error("a background process could not work: %s", error)
        return self._died(warmed)

    def _died(self, early: bool) -> str:
        job = self.job
        self.end()
        self.failures += early
        if early:
            pause = min(WAIT_MOST, 2.0**self.failures)
            self.not_before = time.monotonic() + pause
            LOG.error("a background process did not start; it is tried again in %g s", pause)
        return job

    def end(self) -> None:
        """Let the process end after what it does now."""
        if self.pool is not None:
            self.pool.shutdown(wait=False, cancel_futures=True)
        self.pool, self.process, self.job, self.future = None, 0, "", None


def end_processes(numbers: set[int], grace: float) -> None:
    """Wait until processes of this one have ended; those that don't in time are ended."""
    left = {p.pid: p for p in multiprocessing.active_children() if p.pid in numbers}
    over = time.monotonic() + grace
    for process in left.values():
        process.join(max(0.0, over - time.monotonic()))
    for process in left.values():
        if process.is_alive():
            process.kill()
        process.join()
