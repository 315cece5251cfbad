"""JupyterLab that ends with the program that started it, even where that program was killed.

Run as a module, with the arguments of JupyterLab, its standard input a pipe that the starting program holds open.
"""

import os
import shutil
import signal
import sys
import threading
import time
from importlib import import_module
from typing import Any

_ENDS_WITHIN = 15.0
"""Seconds that the server has to end its kernels; those left over see by themselves that it is gone."""


def main() -> None:
    """Serve until told to stop, or until the program at the other end of standard input is gone."""
    serve: Any = import_module("jupyterlab.labapp").main
    orphaned = threading.Event()
    threading.Thread(target=_watch, args=(orphaned,), daemon=True).start()
    serve()
    if orphaned.is_set():  # nobody else is left to clear up
        shutil.rmtree(os.environ["JUPYTER_RUNTIME_DIR"], ignore_errors=True)


def _watch(orphaned: threading.Event) -> None:
    while sys.stdin.buffer.read(1):
        pass
    orphaned.set()
    signal.raise_signal(signal.SIGTERM)
    time.sleep(_ENDS_WITHIN)
    os._exit(1)


if __name__ == "__main__":
    main()
