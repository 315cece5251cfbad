"""One notebook run by papermill, from Python: parameters checked, nothing of the run itself left in it."""

import json
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from stripdown import resources
from stripdown.batch.error import NotebookError
from stripdown.batch.kernels import manager
from stripdown.batch.settings import KernelName


def run(name: str, folder: Path, parameters: Mapping[str, object], *, kernel: KernelName, kept: Path) -> None:
    """Run the notebook `name` in `folder`, where it writes its files, and keep it there as `name.ipynb`.

    One that failed is moved to `kept`, its cell marked. Text goes in as text, never through a command line. Raises
    NotebookError where a cell failed, ValueError for a parameter unknown to the notebook (papermill would only log it).
    """
    papermill = _papermill()
    from papermill.exceptions import PapermillExecutionError

    source = _source(name, parameters)
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
        _forget_run(target)
        kept.parent.mkdir(exist_ok=True)
        target.replace(kept)
        raise NotebookError(failed.exec_count, f"{failed.ename}: {failed.evalue}", kept) from failed
    _forget_run(target)
    kept.unlink(missing_ok=True)


def get_ready() -> None:
    """Import what runs notebooks, which takes as long as a record."""
    _papermill()


def prepare(name: str, folder: Path, parameters: Mapping[str, object]) -> None:
    """Put the notebook `name` into `folder` with its parameters filled in, not run. Raises ValueError as `run` does."""
    source = _source(name, parameters)
    target = folder / source.name
    _papermill().execute_notebook(
        _literal(source), _literal(target), dict(parameters), kernel_name="python3", prepare_only=True
    )
    _forget_run(target)


def _source(name: str, parameters: Mapping[str, object]) -> Path:
    """The notebook as it is shipped; raises ValueError for a parameter that it does not have."""
    source = resources.notebook(name)
    unknown = sorted(set(parameters) - _parameters(source))
    if unknown:
        raise ValueError(f"{source.name} has no parameter {', '.join(unknown)}")
    return source


@cache
def _parameters(source: Path) -> frozenset[str]:
    return frozenset(_papermill().inspect_notebook(_literal(source)))


@cache
def _papermill() -> Any:
    """papermill, its schema checker left without a grammar of internet addresses: 1.4 s a process, for no notebook."""
    grammar = "rfc3987_syntax"
    left_out = grammar not in sys.modules
    if left_out:
        sys.modules[grammar] = None  # type: ignore[assignment]  # so that its import fails, which the checker allows for
    try:
        import papermill
    finally:
        if left_out:
            del sys.modules[grammar]
    return papermill


def _literal(path: Path) -> str:
    """papermill reads `{` in a path as a placeholder."""
    return str(path).replace("{", "{{").replace("}", "}}")


def _forget_run(target: Path) -> None:
    """Take out the times, paths and the chance id that papermill notes, which differ from run to run."""
    book: Any = json.loads(target.read_text(encoding="utf-8"))
    for part in (book, *book["cells"]):
        part["metadata"].pop("papermill", None)
        part["metadata"].pop("execution", None)
        if "injected-parameters" in part["metadata"].get("tags", ()):
            part["id"] = "injected-parameters"
    target.write_text(json.dumps(book, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
