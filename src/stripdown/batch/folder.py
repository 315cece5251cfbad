"""A folder or file that appears whole: made beside its place under a name no claim can have, then renamed."""

import contextlib
import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_NEW = ".stripdown-new-"
_OLD = ".stripdown-old-"
_FAILED = "_failed"


@contextmanager
def whole(target: Path) -> Iterator[Path]:
    """A folder to fill; then it takes the place of `target`, whose other files stay; on failure nothing changed.

    Raises OSError, also where a file stands in its place, or a folder that may not be written.
    """
    if target.exists() and not target.is_dir():
        raise FileExistsError(errno.EEXIST, f"{target.name} is a file, not a folder", str(target))
    if target.exists() and not os.access(target, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, f"the folder {target.name} may not be written", str(target))
    with tempfile.TemporaryDirectory(prefix=_NEW, dir=target.parent, ignore_cleanup_errors=True) as holder:
        fresh = Path(holder) / target.name
        fresh.mkdir()
        yield fresh
        _swap(fresh, target)


def put(target: Path, text: str) -> None:
    """Write a file whole or leave the old one; the same bytes on every system. Raises OSError."""
    fresh = target.with_name(_NEW + target.name)
    try:
        fresh.write_text(text, encoding="utf-8", newline="\n")
        fresh.replace(target)
    finally:
        fresh.unlink(missing_ok=True)


def failed(out: Path, name: str) -> Path:
    """Where a notebook that failed is kept, beside all claims: none can begin with `_`."""
    return out / _FAILED / f"{name}.ipynb"


def clear_up(out: Path) -> None:
    """Put right what a killed run left: a folder that was on its way out comes back or hands over its other files."""
    for leftover in out.glob(f"{_NEW}*"):
        if leftover.is_dir():
            shutil.rmtree(leftover, ignore_errors=True)
        else:
            with contextlib.suppress(OSError):
                leftover.unlink()
    for old in out.glob(f"{_OLD}*"):
        with contextlib.suppress(OSError):  # then it stays until it may be written
            _settle(old, out / old.name.removeprefix(_OLD))


def _swap(fresh: Path, target: Path) -> None:
    old = target.with_name(_OLD + target.name)
    if target.is_symlink():
        target.unlink()  # a link may lead anywhere
    if target.exists():
        target.replace(old)
    fresh.replace(target)
    if old.exists():
        _settle(old, target)


def _settle(old: Path, target: Path) -> None:
    """Keep what the new folder does not write itself, such as a lesson or a person's notes."""
    if not target.exists():
        old.replace(target)
        return
    for kept in old.iterdir():
        if not (target / kept.name).exists():
            kept.replace(target / kept.name)
    shutil.rmtree(old)
