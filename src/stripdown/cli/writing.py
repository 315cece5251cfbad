"""A single file that a command gives."""

from pathlib import Path


def write_whole(path: Path, data: bytes) -> None:
    """Write beside and rename, so that the file is there whole or not at all; raises OSError.

    A pipe or a device is written to as it is.
    """
    if path.exists() and not path.is_file():
        path.write_bytes(data)
        return
    beside = path.with_name(path.name + ".part")
    try:
        beside.write_bytes(data)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
