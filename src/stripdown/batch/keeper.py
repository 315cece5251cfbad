"""The process that kernels are forked from, as its starter and its callers see it."""

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from stripdown.batch.error import NurseryError

_KEEP_MEMORY = {"MALLOC_MMAP_THRESHOLD_": str(2**30), "MALLOC_TRIM_THRESHOLD_": str(2**32)}
"""Arrays that come and go reuse their memory instead of asking the system for it each time."""
_ONE_THREAD = {f"{library}_NUM_THREADS": "1" for library in ("OPENBLAS", "OMP", "MKL")}

_ENDS = 5.0
"""Seconds that it is given to end."""


class Nursery:
    """Started once a run, with the tables that the parameters of its notebooks name; called by each worker.

    It ends when this object is closed, or when this process ends.
    """

    def __init__(self, parameters: Mapping[str, str]) -> None:
        self._folder = tempfile.mkdtemp(prefix="k-")
        self.place = str(Path(self._folder) / "nursery")
        with socket.socket(socket.AF_UNIX) as listener:
            listener.bind(self.place)
            listener.listen()
            code = "from stripdown.batch.nursery import main; main()"
            self._process = subprocess.Popen(
                [sys.executable, "-c", code, str(listener.fileno()), json.dumps(dict(parameters))],
                stdin=subprocess.PIPE,
                env=_ONE_THREAD | os.environ | _KEEP_MEMORY,
                pass_fds=[listener.fileno()],
                start_new_session=True,  # ctrl-C reaches the leading process alone
            )

    def close(self) -> None:
        """End it, once its callers have hung up; one that is not ready yet at once."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.terminate()
        try:
            self._process.wait(timeout=_ENDS)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        shutil.rmtree(self._folder, ignore_errors=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, raised: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class Keeper:
    """The one that forks the kernels of this process, at the other end of a line to the nursery.

    Raises OSError and NurseryError where no nursery answers at the place.
    """

    def __init__(self, place: str) -> None:
        with socket.socket(socket.AF_UNIX) as call:
            call.connect(place)
            self._orders, self._answers = call.makefile("wb", buffering=0), call.makefile("rb")
        self.ended = False
        self.pid: int = self._heard()["pid"]

    def fork(self, arguments: list[str], folder: str, environment: dict[str, str]) -> "Forked":
        """A fresh kernel."""
        return Forked(self, self.ask({"fork": arguments, "folder": folder, "environment": environment})["pid"])

    def ask(self, order: dict[str, Any]) -> Any:
        """One order, one answer; raises NurseryError where nobody is there to answer."""
        with contextlib.suppress(ConnectionError):
            self._orders.write(json.dumps(order).encode() + b"\n")
        return self._heard()

    def _heard(self) -> Any:
        with contextlib.suppress(ConnectionError):
            if answer := self._answers.readline():
                return json.loads(answer)
        self.ended = True
        raise NurseryError("the process that forks kernels was ended")

    def close(self) -> None:
        """Hang up, which ends the keeper and its kernels."""
        self._orders.close()
        self._answers.close()


class Forked:
    """A forked kernel, seen as `subprocess.Popen` shows a process."""

    stdin = stdout = stderr = None

    def __init__(self, keeper: Keeper, pid: int) -> None:
        self._keeper = keeper
        self.pid = pid
        self.returncode: int | None = None

    def poll(self) -> int | None:
        """Exit code, or None while it runs."""
        if self.returncode is None:
            try:
                self.returncode = self._keeper.ask({"poll": self.pid})["code"]
            except NurseryError:  # then its kernels end themselves
                self.returncode = -signal.SIGKILL
        return self.returncode

    def wait(self) -> int | None:
        """Exit code; callers wait until `poll` has one."""
        return self.poll()

    def send_signal(self, number: int) -> None:
        """Signal the kernel and what it started."""
        with contextlib.suppress(NurseryError):
            self._keeper.ask({"signal": number, "pid": self.pid})

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it."""
        self.send_signal(signal.SIGKILL)
