"""Bytes of a `.toml`, `.json` or `.jsonl` file → plain mappings; whatever is wrong with the file is one clear fault."""

import json
import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, BinaryIO

MOST_BYTES = 5_000_000
"""Largest record: photos are named, never held, so a real one has a few thousand bytes."""

_BYTE_ORDER_MARKS = {
    b"\xff\xfe\x00\x00": "UTF-32",
    b"\x00\x00\xfe\xff": "UTF-32",
    b"\xff\xfe": "UTF-16",
    b"\xfe\xff": "UTF-16",
}
# What the shell hands a command as a file; whoever writes into it is there.
_HANDED_OVER = re.compile(r"/dev/(stdin|null|fd/\d+)|/proc/(self|\d+)/fd/\d+")
# A key of a hundred parts, `a.a.a. …`: the TOML reader's work grows with the square of their number.
_LONG_KEY = re.compile(r"""(?<![\w"'-])(?:(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){100}""")


class UnreadableError(ValueError):
    """A file of no use: `what` is wrong with it, and what would be right."""

    def __init__(self, what: str, fix: str) -> None:
        super().__init__(what)
        self.what = what
        self.fix = fix


def ordinary(path: Path) -> bool:
    """Whether something that is there can be read to its end: a file, or what the shell hands over as one.

    A named pipe waits for ever where nobody writes, and a device may have no end.
    """
    return path.is_file() or _HANDED_OVER.fullmatch(str(path)) is not None


def no_file() -> UnreadableError:
    """The fault of a pipe, a socket or a device."""
    return UnreadableError("is a pipe or a device, no ordinary file", "save what it holds as a file and name that")


def content(path: Path) -> bytes:
    """The bytes of a file that is read whole; raises OSError, and `UnreadableError` where it is no ordinary one."""
    path.stat()
    if not ordinary(path) and not path.is_dir():  # which the reader names better
        raise no_file()
    return path.read_bytes()


def decode(data: bytes) -> str:
    """UTF-8 text, a byte order mark taken off; raises `UnreadableError`."""
    for mark, name in _BYTE_ORDER_MARKS.items():
        if data.startswith(mark):
            raise UnreadableError(f"is {name}, not UTF-8", "save it as UTF-8")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"is not UTF-8: byte 0x{data[error.start]:02X} in line {line}"
        raise UnreadableError(what, "save it as UTF-8, not in a code page of one country") from None


def from_toml(text: str) -> dict[str, Any]:
    """The mapping that a TOML text holds; raises `UnreadableError`."""
    if _LONG_KEY.search(text):
        raise UnreadableError("holds a key nested more than a hundred deep", "write the record as its form shows")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise UnreadableError("is nested too deep", "a record is never more than four levels deep") from None
    except ValueError as error:
        _look_for_zeros(text, "TOML")
        raise UnreadableError(
            f"is not TOML: {_short(error)}", "mend that place; text stands in double quotes, a date as 2026-01-31"
        ) from None


def from_json(text: str) -> Any:
    """The value that a JSON text holds; raises `UnreadableError`, also where one table names a field twice."""
    try:
        return json.loads(text, object_pairs_hook=_single)
    except RecursionError:
        raise UnreadableError("is nested too deep", "a record is never more than four levels deep") from None
    except ValueError as error:
        _look_for_zeros(text, "JSON")
        raise UnreadableError(f"is not JSON: {_short(error)}", "mend the place, or write the record anew") from None


def json_lines(stream: BinaryIO) -> Iterator[tuple[int, Any]]:
    """(line number, value or `UnreadableError`) of every line that is not blank; one bad line never stops the rest."""
    return values(raw_lines(stream))


def raw_lines(stream: BinaryIO) -> Iterator[tuple[int, bytes | None]]:
    """(line number, its bytes) of every line; None = longer than any record."""
    number = 0
    while line := stream.readline(MOST_BYTES + 1):
        number += 1
        whole = len(line) <= MOST_BYTES
        yield number, line if whole else None
        while not whole and line and not line.endswith(b"\n"):
            line = stream.readline(MOST_BYTES)


def values(numbered: Iterable[tuple[int, bytes | None]]) -> Iterator[tuple[int, Any]]:
    """(line number, value or `UnreadableError`) of raw lines, blank ones left out."""
    for number, line in numbered:
        try:
            if line is None:
                raise too_large()
            if (text := decode(line)).strip():
                yield number, from_json(text)
        except UnreadableError as error:
            what = error.what.replace(" in line 1", "")  # each line is read by itself
            yield number, UnreadableError(what.replace("line 1 column", "column"), error.fix)


def _look_for_zeros(text: str, form: str) -> None:
    if "\0" in text:
        raise UnreadableError(f"is not {form} in UTF-8: it holds zero bytes, as UTF-16 does", "save it as UTF-8")


def too_large() -> UnreadableError:
    """The fault of a record that no person wrote."""
    return UnreadableError(
        f"is larger than {MOST_BYTES // 1_000_000} MB", "a record names its photos, it does not hold them"
    )


def _single(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) < len(pairs):
        names = [name for name, _ in pairs]
        doubled = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"{json.dumps(doubled[:60])} stands twice in one table")
    return table


def _short(error: ValueError) -> str:
    text = str(error)
    if "integer string conversion" in text:
        return "a number with thousands of digits"
    return text if len(text) <= 160 else text[:160] + "…"
