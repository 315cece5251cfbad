"""Records on standard input, kept in the output folder so that the notebooks can open them, also later."""

import json
import sys
from collections.abc import Sequence
from pathlib import Path

STDIN = "-"


def spooled(paths: Sequence[str], out: Path) -> list[str]:
    """The paths, with `-` replaced by a file that holds what came on standard input."""
    return [_written(sys.stdin.buffer.read(), out) if path == STDIN else path for path in dict.fromkeys(paths)]


def _written(data: bytes, out: Path) -> str:
    try:
        json.loads(data)
        name = "standard-input.json"
    except (ValueError, RecursionError):
        name = "standard-input.jsonl"
    out.mkdir(parents=True, exist_ok=True)
    (out / name).write_bytes(data)
    return str(out / name)
