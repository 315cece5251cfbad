"""A folder that appears whole: filled beside its place under a name no claim can have, then renamed."""

import errno
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

    Raises OSError, also where a file stands in its place.
    """
    if target.exists() and not target.is_dir():
        raise FileExistsError(errno.EEXIST, f"{target.name} is a file, not a folder", str(target))
    with tempfile.TemporaryDirectory(prefix=_NEW, dir=target.parent, ignore_cleanup_errors=True) as holder:
        fresh = Path(holder) / target.name
        fresh.mkdir()
        yield fresh
        _swap(fresh, target)


def failed(out: Path, name: str) -> Path:
    """Where a notebook that failed is kept, beside all claims: none can begin with `_`."""
    return out / _FAILED / f"{name}.ipynb"


def clear_up(out: Path) -> None:
    """Put right what a killed run left: a folder that was on its way out comes back or hands over its other files."""
    for leftover in out.glob(f"{_NEW}*"):
        shutil.rmtree(leftover, ignore_errors=True)
    for old in out.glob(f"{_OLD}*"):
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
