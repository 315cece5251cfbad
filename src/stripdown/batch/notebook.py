"""One notebook run by papermill, from Python: parameters checked, nothing of the run itself left in it."""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from stripdown import resources
from stripdown.batch.kernels import manager
from stripdown.batch.settings import KernelName


class NotebookError(Exception):
    """A cell failed; the notebook that was written shows where."""

    def __init__(self, cell: int, what: str) -> None:
        self.cell = cell
        self.what = what
        super().__init__(f"cell {cell}: {what}")


def run(name: str, folder: Path, parameters: Mapping[str, object], *, kernel: KernelName) -> None:
    """Run the notebook `name` in `folder`, where it writes its files, and keep it there as `name.ipynb`.

    Text goes in as text, never through a command line. Raises NotebookError where a cell failed and ValueError for a
    parameter that the notebook does not know (papermill would only log it).
    """
    import papermill
    from papermill.exceptions import PapermillExecutionError

    source = resources.notebook(name)
    unknown = sorted(set(parameters) - _parameters(source))
    if unknown:
        raise ValueError(f"{source.name} has no parameter {', '.join(unknown)}")
    target = folder / source.name
    try:
        papermill.execute_notebook(
            _literal(source),
            _literal(target),
            dict(parameters),
            kernel_name="python3",
            kernel_manager_class=manager(kernel),
            shutdown_kernel="immediate",
            progress_bar=False,
            request_save_on_cell_execute=False,
            cwd=folder,
        )
    except PapermillExecutionError as failed:
        raise NotebookError(failed.exec_count, f"{failed.ename}: {failed.evalue}") from failed
    finally:
        _forget_run(target)


@cache
def _parameters(source: Path) -> frozenset[str]:
    import papermill

    return frozenset(papermill.inspect_notebook(_literal(source)))


def _literal(path: Path) -> str:
    """papermill reads `{` in a path as a placeholder."""
    return str(path).replace("{", "{{").replace("}", "}}")


def _forget_run(target: Path) -> None:
    """Take out the times and paths that papermill notes, which differ from run to run."""
    if not target.exists():
        return
    book: Any = json.loads(target.read_text(encoding="utf-8"))
    for part in (book, *book["cells"]):
        part["metadata"].pop("papermill", None)
        part["metadata"].pop("execution", None)
    target.write_text(json.dumps(book, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
