"""The two ways a notebook gets its kernel: started anew, or forked from a process that has everything imported."""

import asyncio
import atexit
import contextlib
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from functools import cache
from pathlib import Path
from queue import Empty
from typing import Any

from jupyter_client.asynchronous.client import AsyncKernelClient
from jupyter_client.connect import KernelConnectionInfo
from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import AsyncKernelManager
from jupyter_client.provisioning.factory import KernelProvisionerFactory
from jupyter_client.provisioning.local_provisioner import LocalProvisioner

from stripdown.batch.error import NurseryError
from stripdown.batch.settings import KernelName

_ENTRY = "stripdown-fork"
_KEEP_MEMORY = {"MALLOC_MMAP_THRESHOLD_": str(2**30), "MALLOC_TRIM_THRESHOLD_": str(2**32)}
"""Arrays that come and go reuse their memory instead of asking the system for it each time: 0.2 s a record."""

_PORTS = ("shell_port", "iopub_port", "stdin_port", "hb_port", "control_port")
_SEEN_DEAD = 5.0
"""Seconds after which a killed kernel is gone."""


class Client(AsyncKernelClient):
    """A client that knows when a kernel is ready, where the usual one waits a while for what may still come."""

    async def wait_for_ready(self, timeout: float | None = None) -> None:
        """Until the kernel has answered and said that it is idle, the last that it says; raises RuntimeError."""
        end = time.monotonic() + timeout if timeout else float("inf")
        patience = 0.05
        while time.monotonic() < end:
            asked = self.kernel_info()
            with contextlib.suppress(Empty):
                await self.get_shell_msg(timeout=1)
                while not _is_last(await self.get_iopub_msg(timeout=patience), asked):
                    pass
                return
            patience *= 2
            if not await self.is_alive():
                raise RuntimeError("the kernel died on its way up")
        raise RuntimeError(f"the kernel did not answer within {timeout} s")


def _is_last(message: dict[str, Any], asked: str) -> bool:
    """Whether this ends what a kernel says to the request `asked`."""
    return bool(message["parent_header"].get("msg_id") == asked and message["content"].get("execution_state") == "idle")


class Stock(AsyncKernelManager):
    """A kernel of this very Python; its files lie in a folder of its own, so that no two runs meet."""

    client_class = f"{__name__}.Client"
    client_factory = Client
    provisioner_name = "local-provisioner"

    def __init__(self, **rest: Any) -> None:
        super().__init__(**rest)
        place = _folder() / uuid.uuid4().hex[:12]
        self.connection_file = f"{place}.json"
        if os.name == "posix":
            self.transport = "ipc"
            self.ip = str(place)

    @property
    def kernel_spec(self) -> KernelSpec:
        """Never one installed by hand, which may name another Python."""
        return KernelSpec(
            argv=[sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"],
            display_name="Python 3",
            language="python",
            metadata={"kernel_provisioner": {"provisioner_name": self.provisioner_name, "config": {}}},
        )


class Fast(Stock):
    """The same kernel, forked by the nursery of this process."""

    provisioner_name = _ENTRY


class ForkProvisioner(LocalProvisioner):
    """Asks the nursery for a kernel instead of starting a program."""

    async def launch_kernel(self, cmd: list[str], **rest: Any) -> KernelConnectionInfo:
        """Fork a kernel with the arguments, working folder and environment that the command would have had."""
        arguments = cmd[cmd.index("ipykernel_launcher") + 1 :]
        folder = str(rest.get("cwd") or Path.cwd())
        environment = dict(rest.get("env") or os.environ)
        kernel: Any = await asyncio.to_thread(nursery().fork, arguments, folder, environment)  # has what Popen has
        self.process = kernel
        self.pid = self.pgid = kernel.pid
        self.cwd = folder
        await self._listening()
        return self.connection_info

    async def _listening(self) -> None:
        """Until its sockets are there: a client that comes too early tries again only after a tenth of a second."""
        told: dict[str, Any] = {**self.connection_info}
        sockets = [f"{told['ip']}-{told[port]}" for port in _PORTS]
        while await self.poll() is None and not all(map(os.path.exists, sockets)):
            await asyncio.sleep(0.003)

    async def kill(self, restart: bool = False) -> None:
        """End it, and see it ended: who asks afterwards would look only every tenth of a second."""
        await super().kill(restart)
        end = time.monotonic() + _SEEN_DEAD
        while await self.poll() is None and time.monotonic() < end:
            await asyncio.sleep(0.003)


class Forked:
    """A forked kernel, seen as `subprocess.Popen` shows a process."""

    stdin = stdout = stderr = None

    def __init__(self, keeper: "Nursery", pid: int) -> None:
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


class Nursery:
    """The process that forks kernels (`nursery.py`); it and its kernels end when this process does."""

    def __init__(self) -> None:
        command = [sys.executable, "-c", "from stripdown.batch.nursery import main; main()"]
        environment = os.environ | _KEEP_MEMORY
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment)

    def fork(self, arguments: list[str], folder: str, environment: dict[str, str]) -> Forked:
        """A fresh kernel."""
        answer = self.ask({"fork": arguments, "folder": folder, "environment": environment})
        return Forked(self, answer["pid"])

    def ask(self, order: dict[str, Any]) -> Any:
        """One order, one answer; raises NurseryError where nobody is there to answer."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        with contextlib.suppress(BrokenPipeError):
            self._process.stdin.write(json.dumps(order).encode() + b"\n")
            self._process.stdin.flush()
            if answer := self._process.stdout.readline():
                return json.loads(answer)
        raise NurseryError("the process that forks kernels was ended")

    @property
    def ended(self) -> bool:
        """Whether it is there no more."""
        return self._process.poll() is not None

    def close(self) -> None:
        """End the nursery and all its kernels."""
        with contextlib.suppress(BrokenPipeError), self._process:  # closes the channel, which ends it, and waits
            pass


_opened: list[Nursery] = []


def nursery() -> Nursery:
    """The nursery of this process, started when first asked for, and again where it was ended from outside."""
    if not _opened:
        atexit.register(lambda: _opened[-1].close())
    elif not _opened[-1].ended:
        return _opened[-1]
    else:
        _opened.pop().close()
    _opened.append(Nursery())
    return _opened[-1]


@cache
def _folder() -> Path:
    """Where connection files and sockets of this process lie; removed with it."""
    holder = tempfile.TemporaryDirectory(prefix="k-")
    atexit.register(holder.cleanup)
    return Path(holder.name)


def manager(name: KernelName) -> type[Stock]:
    """The kernel manager that papermill is to use."""
    if name == "stock":
        return Stock
    from importlib.metadata import EntryPoint

    entry = EntryPoint(_ENTRY, f"{__name__}:ForkProvisioner", KernelProvisionerFactory.GROUP_NAME)
    KernelProvisionerFactory.instance().provisioners[_ENTRY] = entry
    return Fast
