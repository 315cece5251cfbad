"""The process that forks kernels: everything imported once, then one fresh kernel an order.

Orders come as JSON lines on standard input, answers go out on standard output. It stays single-threaded, so that a fork
is safe; when its orders end it ends its kernels and itself.
"""

import contextlib
import gc
import importlib.util
import json
import os
import signal
import sys
from typing import Any, BinaryIO

_PRELOADED = (
    "ipykernel.kernelapp",
    "ipykernel.ipkernel",
    "ipykernel.zmqshell",
    "ipykernel.debugger",
    "IPython.core.completerlib",
    "IPython.core.debugger",
    "IPython.core.logger",
    "IPython.core.oinspect",
    "IPython.extensions.storemagic",
    "sqlite3",
    "tornado.platform.asyncio",
    "typst",
)
"""What a kernel imports on its way up, whatever its notebook holds."""

_INLINE = "module://matplotlib_inline.backend_inline"
"""Named, never imported before the fork: a kernel forked after its import shows no figures."""


def main() -> None:
    """Serve orders; in a forked kernel, be the kernel."""
    orders, answers = _channel()
    os.environ.setdefault("MPLBACKEND", _INLINE)  # read when matplotlib is first imported; a kernel does the same
    os.environ["PYDEVD_DISABLE_FILE_VALIDATION"] = "1"  # else the debugger's import prints; no kernel inherits it
    _get_ready()
    gc.collect()
    gc.freeze()  # what is shared stays shared: the collector of a kernel leaves it alone
    order = _serve(orders, answers)
    if order is not None:
        orders.close()
        answers.close()
        _be_kernel(order)


def _channel() -> tuple[BinaryIO, BinaryIO]:
    """The two ends of the channel, moved away from where a library may read or print."""
    orders, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb", buffering=0)
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 0)
    os.dup2(2, 1)
    os.close(nowhere)
    return orders, answers


def _get_ready() -> None:
    """Import everything and show the demo record once: what is read or built on the way stays as it is."""
    for name in _PRELOADED:
        importlib.import_module(name)
    from stripdown.batch.settings import Settings
    from stripdown.batch.workbook import open_case
    from stripdown.pages import case_html

    with contextlib.suppress(Exception):  # a head start only: what fails here fails in the kernel, where it is told
        case_html(open_case("", Settings()))


def _serve(orders: BinaryIO, answers: BinaryIO) -> dict[str, Any] | None:
    """Answer orders until they end; return the order in the process that is to become a kernel."""
    running: dict[int, int | None] = {}
    while line := orders.readline():
        order = json.loads(line)
        answer: dict[str, Any] = {}
        if "fork" in order:
            pid = os.fork()
            if pid == 0:
                return dict(order)
            running[pid] = None
            answer = {"pid": pid}
        elif "signal" in order:
            if _code(running, order["pid"]) is None:
                _signal(order["pid"], order["signal"])
        else:
            answer = {"code": _code(running, order["poll"])}
        answers.write(json.dumps(answer).encode() + b"\n")
    for pid in running:
        if _code(running, pid) is None:
            _signal(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
    return None


def _code(running: dict[int, int | None], pid: int) -> int | None:
    """Exit code of a kernel, None while it runs."""
    if running[pid] is None:
        ended, status = os.waitpid(pid, os.WNOHANG)
        if ended:
            running[pid] = os.waitstatus_to_exitcode(status)
    return running[pid]


def _signal(pid: int, number: int) -> None:
    """Signal a kernel and what it started; before it leads its own group, itself alone."""
    try:
        os.killpg(pid, number)
    except ProcessLookupError:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, number)


def _be_kernel(order: dict[str, Any]) -> None:
    """Take on what a newly started kernel would have been given, then run as one."""
    parent = os.getppid()
    os.setsid()
    launcher = importlib.util.find_spec("ipykernel_launcher")
    sys.argv = [str(launcher and launcher.origin), *order["fork"]]
    sys.path = [place for place in sys.path if place]  # the kernel puts the working folder back itself
    os.environ.clear()
    os.environ.update(order["environment"])
    os.chdir(order["folder"])
    _forget_random_state()

    from ipykernel.kernelapp import IPKernelApp

    app: Any = IPKernelApp.instance(parent_handle=parent)
    app.initialize(order["fork"])
    app.start()


def _forget_random_state() -> None:
    """numpy's own generator is not seeded anew by a fork; Python's is."""
    numpy = sys.modules.get("numpy")
    if numpy is not None:
        numpy.random.seed()
