"""Pictures beside the record: what is one, and under which name it is kept."""

from pathlib import Path
from typing import Any

from stripdown.widgets.intake_file import write_whole

MOST_BYTES = 50_000_000
FOLDER = "photos"
_KINDS = ((b"\xff\xd8\xff", ".jpg"), (b"\x89PNG\r\n", ".png"), (b"GIF8", ".gif"))


def keep(folder: Path, stem: str, data: bytes) -> str:
    """Write the picture below `folder` under a name that is free; gives the name as the record has it.

    Raises ValueError where it is no picture, OSError where it cannot be written.
    """
    if len(data) > MOST_BYTES:
        raise ValueError(f"larger than {MOST_BYTES // 1_000_000} MB")
    suffix = _suffix(data)
    number = 1
    while (path := folder / FOLDER / f"{stem}-{number}{suffix}").exists():
        number += 1
    write_whole(path, data)
    return f"{FOLDER}/{path.name}"


def _suffix(data: bytes) -> str:
    for begins, suffix in _KINDS:
        if data.startswith(begins):
            return suffix
    if data[4:8] == b"ftyp":
        return ".heic"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return ".webp"
    raise ValueError("not a picture that is known here: JPEG, PNG, GIF, WebP or HEIC")


def names(entry: dict[str, Any]) -> list[Any]:
    """The pictures that an observation names."""
    given = entry.get("photo", [])
    return list(given) if isinstance(given, list) else [given]
