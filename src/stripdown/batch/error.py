"""What a run may end with that is no fault of a record."""

from pathlib import Path


class BatchError(Exception):
    """Told to the user in one line."""


class InUseError(BatchError):
    """Another run writes into the same folder."""


class SchedulerError(BatchError):
    """The scheduler that was named, or its workers, cannot be used."""


class NurseryError(BatchError):
    """The process that forks kernels has ended."""


class NotebookError(BatchError):
    """A cell failed; the notebook `kept` shows where."""

    def __init__(self, cell: int, what: str, kept: Path) -> None:
        self.cell = cell
        self.what = what
        self.kept = kept
        super().__init__(f"{kept}: cell {cell}: {what}; open it, the cell is marked")
