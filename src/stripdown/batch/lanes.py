"""Worker processes side by side: each item has a time limit, and the end of one worker is the end of one item only."""

import contextlib
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Generator, Iterable
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context, parent_process
from queue import SimpleQueue
from threading import BoundedSemaphore, Thread
from typing import Generic, Literal, TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")
Lost = Literal["timed_out", "died"]


class Lanes(Generic[Item, Result]):
    """`workers` lanes, each with one worker process that is replaced when it died or had to be ended.

    `ready`, where given, is what a new worker does before its first item; it does not count as time of that item.
    """

    def __init__(
        self, job: Callable[[Item], Result], *, workers: int, timeout: float, ready: Callable[[], object] = os.getpid
    ) -> None:
        self._job = job
        self._timeout = timeout
        self._ready = ready
        self._starting = BoundedSemaphore(max(1, (os.cpu_count() or 1) - 1))  # a core stays for what is started beside
        self._free: SimpleQueue[_Lane] = SimpleQueue()
        self._scratch = tempfile.TemporaryDirectory(prefix="stripdown-", ignore_cleanup_errors=True)
        self._lanes = [_Lane(self._scratch.name) for _ in range(workers)]
        for lane in self._lanes:
            self._free.put(lane)

    def run(self, items: Iterable[Item]) -> Generator[tuple[Item, Result | Lost]]:
        """Each item with its result as it comes, or with how it was lost; leaving early ends all workers."""
        threads = ThreadPoolExecutor(len(self._lanes))
        waiting = {threads.submit(self.one, item): item for item in items}
        try:
            for future in as_completed(waiting):
                yield waiting.pop(future), future.result()
            with ThreadPoolExecutor(len(self._lanes)) as closing:
                list(closing.map(_Lane.close, self._lanes))
        finally:
            threads.shutdown(wait=False, cancel_futures=True)
            self.end()

    def end(self) -> None:
        """End all workers with everything that they started."""
        for lane in self._lanes:
            lane.end()
        self._scratch.cleanup()

    def one(self, item: Item) -> Result | Lost:
        """One item in a lane that is free, waited for."""
        lane = self._free.get()
        try:
            with self._starting if lane.empty else contextlib.nullcontext():
                lane.start(self._ready)
            return lane.submit(self._job, item).result(timeout=self._timeout)
        except TimeoutError:
            lane.end()
            return "timed_out"
        except BrokenProcessPool:
            lane.end()
            return "died"
        finally:
            self._free.put(lane)


class _Lane:
    """One worker process at a time; what it puts into temporary folders lies in `scratch`."""

    def __init__(self, scratch: str) -> None:
        self._scratch = scratch
        self._pool: ProcessPoolExecutor | None = None
        self._pid = 0

    @property
    def empty(self) -> bool:
        """Whether there is no worker in it."""
        return self._pool is None

    def start(self, ready: Callable[[], object]) -> None:
        """See to it that there is a worker, and that it is ready."""
        if self._pool is None:
            context = get_context("spawn")
            self._pool = ProcessPoolExecutor(1, mp_context=context, initializer=_prepare, initargs=(self._scratch,))
            self._pid = self._pool.submit(os.getpid).result()
            self._pool.submit(ready).exception()  # waited for; what failed fails in the job, where it is told

    def submit(self, job: Callable[[Item], Result], item: Item) -> Future[Result]:
        """Start the job in the worker."""
        if self._pool is None:
            raise BrokenProcessPool("ended before it began")
        return self._pool.submit(job, item)

    def close(self) -> None:
        """Let the worker end in its own time."""
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown()

    def end(self) -> None:
        """End the worker with everything that it started."""
        pool, self._pool = self._pool, None
        if pool is not None:
            end_tree(self._pid)
            pool.shutdown(wait=False, cancel_futures=True)


def end_tree(pid: int, *, root: bool = True) -> None:
    """End a process (`root` False: not itself) with all its descendants; stopped first, so that none escapes."""
    import psutil

    with contextlib.suppress(psutil.NoSuchProcess, ValueError):
        top = psutil.Process(pid)
        stopped: set[psutil.Process] = set()
        while fresh := {*([top] if root else []), *top.children(recursive=True)} - stopped:
            for process in fresh:
                with contextlib.suppress(psutil.Error):
                    process.suspend()
            stopped |= fresh
        for process in stopped:
            with contextlib.suppress(psutil.Error):
                process.kill()
        psutil.wait_procs(stopped - {top}, timeout=5)


def _prepare(scratch: str) -> None:
    """In a new worker: one thread of arithmetic, nothing on standard output, and an end when the parent ends."""
    os.environ["TMPDIR"] = tempfile.tempdir = scratch
    for library in ("OPENBLAS", "OMP", "MKL"):
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    if os.name == "posix":
        os.setsid()  # ctrl-C at the terminal reaches the parent alone, which ends the workers
    if sys.platform == "linux":
        adopt_orphans()
    os.dup2(2, 1)
    Thread(target=_end_with_parent, args=(scratch,), daemon=True).start()


def adopt_orphans() -> None:
    """A process that left its parent behind stays a descendant of this one, so that it can be found and ended."""
    import ctypes

    ctypes.CDLL(None).prctl(36, 1, 0, 0, 0)  # PR_SET_CHILD_SUBREAPER


def _end_with_parent(scratch: str) -> None:
    parent = parent_process()
    assert parent is not None
    parent.join()
    end_tree(os.getpid(), root=False)
    shutil.rmtree(scratch, ignore_errors=True)
    os._exit(1)
