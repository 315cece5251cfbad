"""The same items on the workers of a Dask scheduler, each with lanes of its own, so that they end and fail as here."""

import asyncio
import contextlib
import logging
import multiprocessing
import re
import time
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import CancelledError
from functools import cache
from importlib import import_module
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from stripdown.batch.error import SchedulerError
from stripdown.batch.lanes import Lanes, Lost
from stripdown.batch.work import FILES, Item, Outcome, do
from stripdown.record import Fault, folder_name
from stripdown.version import __version__

_ADDRESS = re.compile(r"(?:(?:tcp|tls|ucx|wss?)://)?(?:[^\s/:]+|\[[0-9A-Fa-f:.]+\]):\d{1,5}/?")
_ANSWER = 10.0
"""Seconds that a scheduler is given to answer."""
_PATIENCE = 60.0
"""Seconds without any worker after which a run ends."""
_SEEN_LATER = 30.0
"""Seconds after which a file that another machine wrote shows on a shared folder, at the latest."""


@contextlib.contextmanager
def workers_of(address: str) -> Iterator[Any]:
    """The client of a scheduler that has workers with this very version; raises SchedulerError."""
    try:
        distributed: Any = import_module("distributed")
    except ModuleNotFoundError:
        raise SchedulerError("--scheduler needs Dask; install it: pip install 'stripdown[cluster]'") from None
    for name in ("distributed", "distributed.client"):  # what it would print of a lost scheduler is told in one line
        logging.getLogger(name).setLevel(logging.CRITICAL)
    if not _ADDRESS.fullmatch(address):
        raise SchedulerError(f"{address} is no address of a scheduler; give one such as tcp://10.0.0.7:8786")
    try:
        client = distributed.Client(address, timeout=_ANSWER, set_as_default=False)
    except OSError as failed:
        raise SchedulerError(f"no scheduler answers at {address}: {failed or 'no answer'}") from None
    try:
        versions = client.run(_version, on_error="return")
        if not versions:
            raise SchedulerError(f"the scheduler at {address} has no worker; start some: dask worker {address}")
        for worker, version in versions.items():
            if version != __version__:
                raise SchedulerError(f"the worker {worker} has not stripdown {__version__} as here: {version}")
        yield client
    except (OSError, CancelledError):  # it went while it was asked
        raise SchedulerError(f"the scheduler at {address} is gone") from None
    finally:
        with contextlib.suppress(OSError):
            client.close()


def run(items: Sequence[Item], address: str, timeout: float) -> Generator[tuple[Item, Outcome | Lost]]:
    """Each item with its outcome as it comes, or with how it was lost; leaving early ends what still runs.

    `timeout` [s] counts for each record. Raises SchedulerError, also where no worker is left.
    """
    ended: SimpleQueue[Any] = SimpleQueue()
    with workers_of(address) as client:
        futures = {client.submit(_one, item, timeout, pure=False, retries=1): item for item in items}
        try:
            for future in futures:
                future.add_done_callback(ended.put)
            for _ in items:
                future = _next(ended, client, address)
                if future.cancelled():  # never by us
                    raise CancelledError
                yield futures[future], _answer(future, futures[future])
        finally:
            with contextlib.suppress(OSError):  # where nobody is left to be told
                client.cancel(list(futures))
                client.run(_close, on_error="ignore")


def _next(ended: "SimpleQueue[Any]", client: Any, address: str) -> Any:
    """The next future that is over with."""
    last_seen = time.monotonic()
    while True:
        try:
            return ended.get(timeout=1)
        except Empty:
            if client.scheduler_info()["workers"]:
                last_seen = time.monotonic()
            elif time.monotonic() - last_seen > _PATIENCE:
                raise SchedulerError(f"the scheduler at {address} has no worker left") from None


def _answer(future: Any, item: Item) -> Outcome | Lost:
    """What the worker said, if its files are to be seen from here."""
    if future.status != "finished":  # worker after worker died on it
        return "died"
    outcome: Outcome | Lost = future.result()
    if isinstance(outcome, Outcome) and outcome.state == "done" and not _seen(Path(item.out) / folder_name(item.claim)):
        what = f"its pages do not appear in {item.out}"
        fix = "give --out a folder that all machines share under one path"
        return Outcome("failed", outcome.seconds, (Fault(item.file, "", what, fix),))
    return outcome


def _seen(folder: Path) -> bool:
    end = time.monotonic() + _SEEN_LATER
    while not all((folder / name).is_file() for name in FILES):
        if time.monotonic() > end:
            return False
        time.sleep(0.5)
    return True


def _version() -> str:
    """On a worker: the version that it has."""
    return __version__


def _one(item: Item, timeout: float) -> Outcome | Lost:
    """On a worker: do one item in a lane of this process."""
    return _lanes(timeout).one(item)


@cache
def _lanes(timeout: float) -> Lanes[Item, Outcome]:
    """As many lanes as this Dask worker has threads."""
    distributed: Any = import_module("distributed")
    _open.append(lanes := Lanes(do, workers=distributed.get_worker().state.nthreads, timeout=timeout))
    multiprocessing.current_process()._config["daemon"] = False  # type: ignore[attr-defined]  # else it may start none
    return lanes


_open: list[Lanes[Item, Outcome]] = []


async def _close() -> None:
    """On a worker: end its lanes, so that nothing of a run stays."""
    _lanes.cache_clear()
    while _open:
        await asyncio.to_thread(_open.pop().end)
