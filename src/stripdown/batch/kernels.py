"""The two ways a notebook gets its kernel: started anew, or forked from a process that has everything imported."""

import asyncio
import atexit
import contextlib
import os
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
from stripdown.batch.keeper import Keeper, Nursery
from stripdown.batch.settings import KernelName

_ENTRY = "stripdown-fork"
_PORTS = ("shell_port", "iopub_port", "stdin_port", "hb_port", "control_port")
_LOOKS = 20
"""Looks for the sockets between two questions whether the kernel is still alive."""
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
    """The same kernel, forked by the keeper of this process."""

    provisioner_name = _ENTRY


class ForkProvisioner(LocalProvisioner):
    """Asks the keeper for a kernel instead of starting a program."""

    async def launch_kernel(self, cmd: list[str], **rest: Any) -> KernelConnectionInfo:
        """Fork a kernel with the arguments, working folder and environment that the command would have had."""
        arguments = cmd[cmd.index("ipykernel_launcher") + 1 :]
        folder = str(rest.get("cwd") or Path.cwd())
        environment = dict(rest.get("env") or os.environ)
        kernel: Any = await asyncio.to_thread(keeper().fork, arguments, folder, environment)  # has what Popen has
        self.process = kernel
        self.pid = self.pgid = kernel.pid
        self.cwd = folder
        await self._listening()
        return self.connection_info

    async def _listening(self) -> None:
        """Until its sockets are there: a client that comes too early tries again only after a tenth of a second."""
        told: dict[str, Any] = {**self.connection_info}
        sockets = [f"{told['ip']}-{told[port]}" for port in _PORTS]
        while await self.poll() is None:
            for _ in range(_LOOKS):
                if all(map(os.path.exists, sockets)):
                    return
                await asyncio.sleep(0.003)

    async def kill(self, restart: bool = False) -> None:
        """End it, and see it ended: who asks afterwards would look only every tenth of a second."""
        await super().kill(restart)
        end = time.monotonic() + _SEEN_DEAD
        while await self.poll() is None and time.monotonic() < end:
            await asyncio.sleep(0.003)


_keepers: list[Keeper] = []
_nursery = ""


def join(nursery: str) -> None:
    """Have the kernels of this process forked from the nursery that answers at this place."""
    global _nursery
    _nursery = nursery


def keeper() -> Keeper:
    """The keeper of this process, called when first asked for, and again where it was ended from outside."""
    if not _keepers or _keepers[-1].ended:
        _keepers[:] = [_called()]
    return _keepers[-1]


def _hang_up() -> None:
    while _keepers:
        _keepers.pop().close()


def _called() -> Keeper:
    """A keeper of the nursery that was joined; where there is none, or no more, of one of this process."""
    try:
        return Keeper(_nursery)
    except (OSError, NurseryError):
        own = Nursery({})
        atexit.register(own.close)
        atexit.register(_hang_up)
        join(own.place)
        return Keeper(own.place)


@cache
def _folder() -> Path:
    """Where connection files and sockets of this process lie; removed with it, or where it was killed with the nursery,
    once no kernel is left that would miss them."""
    inside = Path(_nursery).parent if _nursery else None
    holder = tempfile.TemporaryDirectory(prefix="k-", dir=inside, ignore_cleanup_errors=True)
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
