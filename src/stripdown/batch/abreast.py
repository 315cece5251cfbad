"""A job done on many lots of things by some processes side by side, answers in the order of the lots."""

import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from typing import TypeVar

from stripdown.batch.error import BatchError

Lot = TypeVar("Lot")
Answer = TypeVar("Answer")
AHEAD = 3
"""Lots that wait for each process: no more are held, however many there are."""


def in_order(job: Callable[[Lot], Answer], lots: Iterable[Lot], processes: int) -> Iterator[Answer]:
    """The answer to each lot; raises BatchError where a process was ended from outside."""
    waiting: deque[Future[Answer]] = deque()
    pool = ProcessPoolExecutor(processes, mp_context=get_context("spawn"), initializer=_leave_stopping_to_the_parent)
    try:
        for lot in lots:
            waiting.append(pool.submit(job, lot))
            if len(waiting) > AHEAD * processes:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    except BrokenProcessPool:
        raise BatchError("a process was ended from outside, perhaps for want of memory; run it again") from None
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _leave_stopping_to_the_parent() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
