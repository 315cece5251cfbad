"""One record's share of a batch: its notebook run in a worker process, its folder put in place whole."""

import time
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from stripdown.batch import folder
from stripdown.batch.error import NotebookError
from stripdown.batch.settings import KernelName, Settings
from stripdown.record.fault import Fault
from stripdown.record.names import folder_name

State = Literal["done", "rejected", "failed", "timed_out"]
FILES = ("teardown.ipynb", "page.html", "page.pdf", "result.json")


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A record to do: `path` is absolute, `file` as the user named it; `out` is the folder of the run.

    `nursery`: where the one of the run answers; '' where there is none.
    """

    claim: str
    file: str
    path: str
    out: str
    settings: Settings
    kernel: KernelName
    nursery: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How it went; `seconds` of wall time."""

    state: State
    seconds: float
    faults: tuple[Fault, ...] = ()


def get_ready() -> None:
    """Import in a new worker what it hands its notebooks to."""
    from stripdown.batch import notebook

    notebook.get_ready()


def do(item: Item) -> Outcome:
    """Run the teardown notebook on the record; whatever goes wrong is told, never raised."""
    started = time.monotonic()
    try:
        fault = _run(item)
    except OSError as failed:
        what = f"cannot be written: {failed.strerror or failed}"
        fault = Fault(
            item.file, "", what, "make room or choose another --out, then run it again; a batch goes on with --resume"
        )
    except Exception as failed:  # one bad record never stops the rest
        fault = Fault(
            item.file,
            "",
            f"{type(failed).__name__}: {failed}",
            "mend what it names, then run it again; a batch goes on with --resume",
        )
    seconds = round(time.monotonic() - started, 3)
    return Outcome("failed", seconds, (fault,)) if fault else Outcome("done", seconds)


def _run(item: Item) -> Fault | None:
    from stripdown.batch import kernels, notebook  # by workers only, never by the process that leads a run

    out = Path(item.out)
    name = folder_name(item.claim)
    kept = folder.failed(out, name)
    kernels.join(item.nursery)
    parameters = {"record": item.path, "claim": item.claim, "named": item.file, "out": "."}
    try:
        with folder.whole(out / name) as fresh:
            notebook.run("teardown", fresh, parameters | item.settings.parameters(), kernel=item.kernel, kept=kept)
            missing = [name for name in FILES if not (fresh / name).is_file()]
            if missing:
                raise FileNotFoundError(f"the notebook wrote no {', '.join(missing)}")
    except NotebookError as failed:
        return Fault(item.file, f"teardown.ipynb cell {failed.cell}", failed.what, f"open {kept}, the cell is marked")
    return None
