"""`ledger.jsonl`: one line a record that is over with, appended and synced, so that a killed run knows where it was."""

import contextlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from stripdown.batch.error import BatchError, InUseError

NAME = "ledger.jsonl"
_TOLD = ("file", "record", "knowledge", "version", "state")


class Ledger:
    """The open ledger of one run."""

    def __init__(self, folder: Path, *, resume: bool) -> None:
        self.path = folder / NAME
        self._file = self.path.open("a+b")
        self._lock()
        if resume:
            self._drop_torn_tail()
        else:
            self._file.truncate(0)

    def append(self, line: Mapping[str, Any]) -> None:
        """Write one line; it is on the disk once this returns. Raises BatchError."""
        try:
            self._file.write(json.dumps(line, ensure_ascii=False, allow_nan=False).encode() + b"\n")
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as failed:
            what = f"{self.path} cannot be written: {failed.strerror or failed}"
            raise BatchError(f"{what}; make room, then go on with --resume") from None

    def lines(self) -> list[dict[str, Any]]:
        """What was written so far; a line that a failing disk or a person spoilt is as if it had never been written."""
        self._file.seek(0)
        found = (_line(text) for text in self._file.read().split(b"\n"))
        return [line for line in found if line is not None]

    def _drop_torn_tail(self) -> None:
        """A killed run may leave half a line."""
        self._file.seek(0)
        written = self._file.read()
        self._file.truncate(written.rfind(b"\n") + 1)

    def _lock(self) -> None:
        if os.name != "posix":
            return
        import fcntl

        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self._file.close()
            raise InUseError(
                f"another run writes into {self.path.parent}; wait for it or choose another --out"
            ) from None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, raised: BaseException | None, trace: TracebackType | None
    ) -> None:
        with contextlib.suppress(OSError):  # what could not be written has been told
            self._file.close()


def _line(text: bytes) -> dict[str, Any] | None:
    """A line that says of a record what became of it, None of any other."""
    try:
        line = json.loads(text)
    except (ValueError, RecursionError):
        return None
    whole = isinstance(line, dict) and all(isinstance(line.get(name), str) for name in _TOLD)
    return line if whole else None
