"""Limit sheets from TOML: own ones before ours, every fault of every file at once. The format is told in
docs/limit-sheets.md."""

from functools import cache
from pathlib import Path

from stripdown.limits.parse import parse_sheet
from stripdown.limits.sheet import SheetFile, Sheets, key_of
from stripdown.record.fault import Fault, RecordError
from stripdown.record.load import UnreadableError, decode, from_toml

_SHIPPED = Path(__file__).parent / "sheets"
_LARGEST = 1_000_000
"""Bytes above which a file is no limit sheet."""


def load_sheets(folder: Path | None = None) -> Sheets:
    """Our sheets, and those of `folder` (its `*.toml`, not its subfolders) before them.

    Raises RecordError with every fault of every sheet of `folder`.
    """
    ours = _shipped()
    own = () if folder is None else _read_folder(folder)
    models = {key_of(s.model): s for s in (*ours, *own) if s.model is not None}
    return Sheets(models, tuple(s for s in (*own, *ours) if s.model is None))


@cache
def _shipped() -> tuple[SheetFile, ...]:
    return _read_folder(_SHIPPED)


def _read_folder(folder: Path) -> tuple[SheetFile, ...]:
    if not folder.is_dir():
        raise RecordError([Fault(str(folder), "", "is not a folder", "name a folder that holds limit sheets (*.toml)")])
    paths = sorted(p for p in folder.iterdir() if p.suffix.casefold() == ".toml" and p.is_file())
    if not paths:
        raise RecordError([Fault(str(folder), "", "holds no limit sheet", "put one *.toml file a model into it")])
    faults: list[Fault] = []
    sheets: list[SheetFile] = []
    for path in paths:
        sheet = _read(path, faults)
        if sheet is not None:
            faults.extend(_doubled(sheet, sheets, path))
            sheets.append(sheet)
    if faults:
        raise RecordError(faults)
    return tuple(sheets)


def _read(path: Path, faults: list[Fault]) -> SheetFile | None:
    try:
        if path.stat().st_size > _LARGEST:
            raise UnreadableError("is larger than 1 MB", "keep one model's limits in a sheet")
        raw = from_toml(decode(path.read_bytes()))
    except UnreadableError as error:
        faults.append(Fault(str(path), "", error.what, error.fix))
        return None
    except OSError as error:
        faults.append(Fault(str(path), "", f"cannot be read: {error.strerror}", "check the file and its permissions"))
        return None
    return parse_sheet(raw, path, faults)


def _doubled(sheet: SheetFile, before: list[SheetFile], path: Path) -> list[Fault]:
    for other in before:
        same = (
            sheet.model is None
            if other.model is None
            else sheet.model is not None and key_of(sheet.model) == key_of(other.model)
        )
        if same:
            what = f"is a second sheet for {sheet.model or 'the class'}, after {other.path}"
            return [Fault(str(path), "model", what, "keep one of the two")]
    return []
