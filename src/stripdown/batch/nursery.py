"""The process that kernels are forked from: everything imported once, then a keeper for each worker that calls.

It stays single-threaded, so that a fork is safe. A keeper takes orders as JSON lines, forks one fresh kernel an order,
and ends its kernels with all that they started when its worker is there no more. `keeper.py` has the other end.
"""

import contextlib
import gc
import importlib.util
import json
import os
import select
import shutil
import signal
import socket
import sys
from pathlib import Path
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
    "stripdown.batch.lanes",
    "tornado.platform.asyncio",
    "typst",
)
"""What a kernel imports on its way up, whatever its notebook holds, and what its keeper needs."""

_TRIED = "returns/tw-2025-012.toml"
"""A short record of the demo with readings, a photo and an explanation of every kind."""

_INLINE = "module://matplotlib_inline.backend_inline"
"""Named, never imported before the fork: a kernel forked after its import shows no figures."""


def main() -> None:
    """Answer calls; in a keeper, serve orders; in a forked kernel, be the kernel."""
    listener, lifeline = socket.socket(fileno=int(sys.argv[1])), _lifeline()
    os.environ.setdefault("MPLBACKEND", _INLINE)  # read when matplotlib is first imported; a kernel does the same
    os.environ["PYDEVD_DISABLE_FILE_VALIDATION"] = "1"  # else the debugger's import prints; no kernel inherits it
    _get_ready(json.loads(sys.argv[2]))
    gc.collect()
    gc.freeze()  # what is shared stays shared: the collector of a kernel leaves it alone
    _give_back_memory()
    call = _answer(listener, lifeline)
    if call is not None:
        os.close(lifeline)
        listener.close()
        _keep(call)
    else:
        shutil.rmtree(Path(listener.getsockname()).parent, ignore_errors=True)  # who started it may have been killed


def _lifeline() -> int:
    """What ends when the process ends that started this one; moved away from where a library may read or print."""
    lifeline, nowhere = os.dup(0), os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 0)
    os.dup2(2, 1)
    os.close(nowhere)
    return lifeline


def _get_ready(parameters: dict[str, str]) -> None:
    """Import everything and show a record of the demo once: what is read or built on the way stays as it is.

    `parameters`: the settings of the run, so that its own tables are read too.
    """
    for name in _PRELOADED:
        importlib.import_module(name)
    from stripdown import resources
    from stripdown.batch.settings import Settings
    from stripdown.batch.workbook import open_case
    from stripdown.case import reasoner
    from stripdown.pages import case_html
    from stripdown.pages.pdf import fonts

    fonts()  # but no PDF: it would start threads
    with contextlib.suppress(Exception):  # a head start only: what fails here fails in the kernel, where it is told
        settings = Settings.of(**parameters | {"columns": ""})
        case_html(open_case(str(resources.demo() / _TRIED), settings))
        tables = settings.tables()
        reasoner(tables["knowledge"], tables["costs"]).get_ready()


def _give_back_memory() -> None:
    """What is free here would be copied when a kernel writes to it; from the system it comes for less."""
    import ctypes

    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:
        trim(0)


def _answer(listener: socket.socket, lifeline: int) -> socket.socket | None:
    """Fork a keeper for each call until the lifeline ends; return the call in the keeper."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)  # from here on the lifeline tells when to end
    keepers: list[int] = []
    while lifeline not in select.select([listener.fileno(), lifeline], [], [])[0]:
        call, _ = listener.accept()
        pid = os.fork()
        if pid == 0:
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            return call
        call.close()
        keepers = [k for k in (*keepers, pid) if not os.waitpid(k, os.WNOHANG)[0]]
    for keeper in keepers:  # their workers end first
        os.waitpid(keeper, 0)
    return None


def _keep(call: socket.socket) -> None:
    """Serve the orders of one worker; then end all that is left of its kernels."""
    from stripdown.batch.lanes import adopt_orphans, end_tree

    adopt_orphans()
    orders, answers = call.makefile("rb"), call.makefile("wb", buffering=0)
    call.close()
    answers.write(json.dumps({"pid": os.getpid()}).encode() + b"\n")
    order = _serve(orders, answers)
    if order is None:
        end_tree(os.getpid(), root=False)
    else:
        orders.close()
        answers.close()
        _be_kernel(order)


def _serve(orders: BinaryIO, answers: Any) -> dict[str, Any] | None:
    """Answer orders until they end; return the order in the process that is to become a kernel."""
    running: dict[int, int | None] = {}
    with contextlib.suppress(ConnectionError):  # a worker that was killed hangs up in the middle
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
    _forget_random_state()

    from ipykernel.kernelapp import IPKernelApp

    app: Any = IPKernelApp.instance(parent_handle=parent)
    try:
        os.chdir(order["folder"])
        app.initialize(order["fork"])
    except Exception:
        if not Path(order["folder"]).is_dir():  # the run was stopped and cleared up: nobody waits for this kernel
            os._exit(1)
        raise
    app.start()


def _forget_random_state() -> None:
    """numpy's own generator is not seeded anew by a fork; Python's is."""
    numpy = sys.modules.get("numpy")
    if numpy is not None:
        numpy.random.seed()
