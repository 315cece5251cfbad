"""The file of a record in the making: saved whole after every entry, taken up again where the workbook stood."""

import json
import os
import tempfile
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from stripdown.record import (
    Columns,
    Fault,
    RecordError,
    Rejected,
    as_mapping,
    folder_name,
    load,
    parse,
    read,
    schema,
    toml_of,
)
from stripdown.record.values import claim_fault
from stripdown.widgets.intake_draft import OF_LISTS, Content

_MARK = "# bench workbook: "
UNIT, FINISH = "unit", "finish"
"""The pages before the first and after the last step of the teardown."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the workbook stands: step, cylinder looked at, order, cautions confirmed; `common`: what was typed once
    for all readings of a quantity at a step."""

    step: str = UNIT
    cylinder: int | None = None
    order: str = "teardown"
    confirmed: tuple[str, ...] = ()
    common: dict[str, dict[str, str]] = field(default_factory=dict)

    def line(self) -> str:
        """A comment for the end of the file: no reader of records takes notice of it."""
        return _MARK + json.dumps(asdict(self), ensure_ascii=True, sort_keys=True)


def place_in(text: str) -> Place:
    """Where the workbook stood, from the last such comment; the beginning where there is none that can be read."""
    lines = [line for line in text.split("\n") if line.startswith(_MARK)]
    with suppress(ValueError, TypeError, AttributeError, RecursionError):
        raw = json.loads(lines[-1].removeprefix(_MARK)) if lines else {}
        common = {
            str(group): {str(k): str(v) for k, v in fields.items()} for group, fields in raw.get("common", {}).items()
        }
        cylinder = raw.get("cylinder")
        return Place(
            step=str(raw.get("step", UNIT)),
            cylinder=cylinder if isinstance(cylinder, int) and 0 < cylinder < 100 else None,
            order="gain" if raw.get("order") == "gain" else "teardown",
            confirmed=tuple(str(c) for c in raw.get("confirmed", ())),
            common=common,
        )
    return Place()


class RecordFile:
    """One file that only this workbook should write: what stands in it is compared before it is replaced."""

    def __init__(self, path: Path, known: bytes | None) -> None:
        self.path = path
        self.known = known
        self.ours = known is not None and _MARK.encode() in known
        """Whether this workbook wrote it before."""

    def save(self, content: Content, place: Place, *, whatever: bool = False) -> str | None:
        """Write it whole beside its place, sync, rename. None = done, else why nothing was saved.

        `whatever`: also over what another program wrote since. A file that people wrote is kept as `.bak` once.
        """
        data = (toml_of(content) + "\n" + place.line() + "\n").encode()
        try:
            there = self.path.read_bytes() if self.path.exists() else None
            if there != self.known and not whatever:
                return "another program changed the file since: take up what it says now, or write over it"
            if there is not None and not self.ours:
                write_whole(self.path.with_name(self.path.name + ".bak"), there)
            if data != there:
                write_whole(self.path, data)
        except OSError as error:
            return f"{error.strerror or error}: free room or choose another folder; the entries are still here"
        self.known, self.ours = data, True
        return None


def write_whole(path: Path, data: bytes) -> None:
    """Beside its place, synced, then renamed: a reader finds the old file or the new one. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:100]}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as fresh:
            fresh.write(data)
            fresh.flush()
            os.fsync(fresh.fileno())
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
        Path(name).chmod(mode)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    with suppress(OSError):  # a folder cannot be synced on every system
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def take_up(
    path: Path, claim: str = "", columns: Columns | None = None
) -> tuple[Content, Place, RecordFile, tuple[str, ...]]:
    """Content, place and file of a record, whatever form it has; a path that is not there begins a new one.

    Another form than TOML is written as TOML beside it; the last value tells so. `columns`: own column names, where it
    is a table. Raises RecordError with every fault where a file has another shape than a record's.
    """
    if not path.exists():
        if path.suffix.casefold() != ".toml":
            raise RecordError([Fault(str(path), "", "is not there", "a new record is a .toml file: name one")])
        stem = {} if claim_fault(path.stem) else {"claim": path.stem}
        return {"format": schema.FORMAT, **stem}, Place(), RecordFile(path, None), ()
    if path.suffix.casefold() == ".toml" and not path.is_dir():
        try:
            known = load.content(path)
            text = load.decode(known)
            raw = load.from_toml(text)
        except OSError as error:
            raise RecordError(
                [Fault(str(path), "", f"cannot be read: {error.strerror}", "look at its rights")]
            ) from None
        except load.UnreadableError as error:
            raise RecordError([Fault(str(path), "", error.what, error.fix)]) from None
        content = shaped(raw)
        if content is None:
            result = parse(raw, file=str(path), folder=str(path.parent))
            raise RecordError(result.faults if isinstance(result, Rejected) else ())
        return content, place_in(text), RecordFile(path, known), ()
    folder = path if path.is_dir() else path.parent
    if claim and not claim_fault(claim) and (target := _file_of(claim, folder)).exists():
        return _again(path, target)
    record = read(path, claim=claim, columns=columns)
    target = _file_of(record.claim, folder)
    if target.exists():
        return _again(path, target)
    told = f"Taken up from {path}. It is saved as {target.name} beside it: keep one of the two, or both are rejected."
    return as_mapping(record), Place(), RecordFile(target, None), (told,)


def _file_of(claim: str, folder: Path) -> Path:
    return folder / f"{folder_name(claim)}.toml"


def _again(path: Path, target: Path) -> tuple[Content, Place, RecordFile, tuple[str, ...]]:
    """What was taken up from `path` before, from the file that it was saved as."""
    content, place, file, _ = take_up(target)
    if not file.ours:
        what = f"would be saved as {target}, which this workbook did not write"
        raise RecordError([Fault(str(path), "", what, "open that one, or move it away")])
    return content, place, file, (f"{path} was taken up before: this is {target.name} beside it, where it stood.",)


def shaped(raw: Any) -> Content | None:
    """The JSON form of what a TOML file holds, where it has the shape of a record: every field known, every table a
    table, every value plain; it may still have faults. None = it has not."""
    return _table(raw, "") if isinstance(raw, dict) and raw.get("format") == schema.FORMAT else None


def _table(raw: dict[str, Any], section: str) -> dict[str, Any] | None:
    out: dict[str, Any] = {}
    for name, value in raw.items():
        field_ = schema.SECTIONS[section].get(name)
        inner = f"{section}.{name}" if section else name
        if field_ is None:
            return None
        if field_.kind == "table":
            made: Any = _table(value, inner) if isinstance(value, dict) else None
        elif field_.kind == "tables":
            made = _tables(value, inner)
        else:
            made = _plain(value)
        if made is None:
            return None
        if made not in ([], {}):
            out[name] = made
    return out


def _tables(value: Any, section: str) -> list[dict[str, Any]] | None:
    if section not in OF_LISTS or not isinstance(value, list):
        return None
    made = [_table(v, section) if isinstance(v, dict) else None for v in value]
    return None if None in made else [m for m in made if m]


def _plain(value: Any) -> Any:
    """A value that JSON and TOML write alike; None where there is none."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list):
        items = [_plain(v) for v in value if not isinstance(v, list)]
        return items if len(items) == len(value) and None not in items else None
    if isinstance(value, float) and value not in (float("inf"), float("-inf")) and value == value:
        return value
    if isinstance(value, str):
        return value.replace("\x7f", "")  # the one character that JSON writes and TOML does not take
    return str(value) if isinstance(value, float) else value if isinstance(value, bool | int) else None
