"""The TOML files of this room as raw tables, an own file laid over them by id.

Entries that lack a key, or hold one of the wrong kind, are told and left out, so that the rest can still be checked.
"""

import math
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parent
NAMES = ("mechanisms", "states", "causes", "history", "readings", "checks", "outcomes", "exclusions", "sources")


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing wrong with the knowledge; line 0 = the file as a whole."""

    file: str
    line: int
    what: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.what}"


class KnowledgeError(ValueError):
    """Knowledge that cannot be reasoned with; `problems` lists everything that is wrong."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(p) for p in self.problems))


@dataclass
class Files:
    """Raw tables and text of each file by its name; `own`: the name of the file laid over them."""

    raw: dict[str, Any] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    own: str | None = None
    problems: list[Problem] = field(default_factory=list)

    def problem(self, file: str, near: str, what: str, *, nth: int = 1) -> None:
        """Note what is wrong at the first (nth) line that holds `near`, in the own file where that line stands
        there."""
        if near and self.own is not None and _line(self.texts[self.own], near, nth):
            file = self.own
        self.problems.append(Problem(file, _line(self.texts[file], near, nth), what))


def _line(text: str, near: str, nth: int) -> int:
    lines = text.replace("'", '"').splitlines()
    holding = [i for i, line in enumerate(lines, 1) if near and near in line]
    return holding[nth - 1] if nth <= len(holding) else 0


def meant(word: object, allowed: Iterable[str]) -> str:
    """'; did you mean …?' where an allowed word is near, else nothing."""
    found = get_close_matches(str(word)[:60].casefold().replace(" ", "_"), list(allowed), n=1, cutoff=0.7)
    return f"; did you mean {found[0]}?" if found else ""


def read_files(own: Path | None = None) -> Files:
    """All files, an own one (as `learn` writes it) laid over ours by id; raises KnowledgeError where a file cannot be
    read at all."""
    files = Files()
    for path in [FOLDER / f"{n}.toml" for n in NAMES] + sorted((FOLDER / "findings").glob("*.toml")):
        name = path.relative_to(FOLDER).as_posix()
        files.raw[name] = _read(path, name, files.texts)
    for name, raw in files.raw.items():
        if name == "mechanisms.toml":
            files.raw[name] = _mechanisms_of_shape(files, name, raw)
        for kind in ("state", "cause", "finding"):
            if kind in raw:
                raw[kind] = _entries_of_shape(files, name, kind, raw[kind])
    if own is not None:
        _lay_over(own, files)
    return files


def _read(path: Path, name: str, texts: dict[str, str]) -> dict[str, Any]:
    try:
        texts[name] = path.read_text(encoding="utf-8")
        return tomllib.loads(texts[name])
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise KnowledgeError([Problem(name, 0, f"cannot be read: {error}")]) from None


def _lay_over(own: Path, files: Files) -> None:
    mine = _read(own, str(own), files.texts)
    files.own = str(own)
    for key in set(mine) - {"mechanisms", "state", "cause", "finding"}:
        files.problem(str(own), key, f"unknown table {key}: mechanisms, state, cause, finding can be given")
    if "mechanisms" in mine:
        files.raw["mechanisms.toml"] |= _mechanisms_of_shape(files, str(own), mine["mechanisms"])
    for kind, names in (
        ("state", ["states.toml"]),
        ("cause", ["causes.toml"]),
        ("finding", [n for n in files.raw if n.startswith("findings/")]),
    ):
        entries = _entries_of_shape(files, str(own), kind, mine.get(kind, []))
        given = {entry["id"]: entry for entry in entries}
        for entry in entries:
            if given[entry["id"]] is not entry:
                files.problem(str(own), _id(entry), f"{kind} {entry['id']} stands twice")
        for name in names:
            files.raw[name][kind] = [given.pop(entry["id"], entry) for entry in files.raw[name][kind]]
        files.raw[names[0]][kind] += given.values()


def _id(entry: Mapping[str, Any]) -> str:
    return f'id = "{entry["id"]}"'


@dataclass(frozen=True, slots=True)
class _Key:
    words: str
    fits: Callable[[Any], bool]
    needed: bool = True


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _numbers(length: int | None) -> Callable[[Any], bool]:
    return lambda v: (
        isinstance(v, list) and all(_is_number(x) for x in v) and len(v) > 0 and (length is None or len(v) == length)
    )


def _is_text(value: Any) -> bool:
    return isinstance(value, str)


def _is_texts(value: Any) -> bool:
    return isinstance(value, list) and len(value) > 0 and all(isinstance(x, str) for x in value)


_TEXT = _Key("text", _is_text)
_NUMBER = _Key("a number", _is_number)
_LEVELS = _Key("a number or a list of numbers", lambda v: _is_number(v) or _numbers(None)(v))
_PARENTS = _Key("an id or a list of ids", lambda v: _is_text(v) or _is_texts(v))
_LIST = _Key("a list of tables", lambda v: isinstance(v, list) and all(isinstance(x, dict) for x in v))
_WHEN = _Key(
    "a table of lists of text", lambda v: isinstance(v, dict) and all(_is_texts(x) for x in v.values()), needed=False
)


def _optional(key: _Key) -> _Key:
    return _Key(key.words, key.fits, needed=False)


_WHY = {"why": _optional(_TEXT), "source": _optional(_TEXT), "when": _WHEN, "counts": _Key("", lambda _: True, False)}
_MECHANISM = {
    "desk": _Key("three numbers", _numbers(3)),
    "rebuilder": _Key("three numbers", _numbers(3)),
    "hours": _Key("five numbers", _numbers(5)),
    **_WHY,
}
_ENTRY: dict[str, dict[str, _Key]] = {
    "state": {"id": _TEXT, "kind": _TEXT, "otherwise": _NUMBER, "links": _LIST},
    "cause": {"id": _TEXT, "liability": _TEXT, "correction": _TEXT, "source": _optional(_TEXT), "feeds": _LIST},
    "finding": {
        "id": _TEXT,
        "otherwise": _LEVELS,
        "otherwise_heavy": _optional(_NUMBER),
        "graded": _Key("true or false", lambda v: isinstance(v, bool), needed=False),
        "on_site": _Key("true or false", lambda v: isinstance(v, bool), needed=False),
        "times": _Key(
            "a table of numbers", lambda v: isinstance(v, dict) and all(_is_number(x) for x in v.values()), needed=False
        ),
        "links": _LIST,
    },
}
_LINK: dict[str, tuple[str, dict[str, _Key]]] = {
    "state": ("links", {"from": _PARENTS, "chance": _NUMBER, **_WHY}),
    "cause": ("feeds", {"mechanism": _TEXT, "share": _NUMBER, **_WHY}),
    "finding": ("links", {"from": _PARENTS, "shows": _LEVELS, "heavy": _optional(_NUMBER), **_WHY}),
}


def _mechanisms_of_shape(files: Files, file: str, raw: Any) -> dict[str, Any]:
    """The tables of mechanisms as far as they have their shape; the two others of our own file pass."""
    if not isinstance(raw, dict):
        files.problem(file, "mechanisms", "mechanisms should be a table a mechanism")
        return {}
    kept = {}
    for key, entry in raw.items():
        if key in ("adjust", "part_winding") and file == "mechanisms.toml":
            kept[key] = entry
        elif not isinstance(entry, dict):
            files.problem(file, key, f"{key} should be a table")
        elif wrong := _misfits(entry, _MECHANISM):
            for what in wrong:
                files.problem(file, f"{key}]", f"{key}: {what}")
        else:
            kept[key] = entry
    return kept


def _entries_of_shape(files: Files, file: str, kind: str, entries: Any) -> list[dict[str, Any]]:
    if not _LIST.fits(entries):
        files.problem(file, kind, f"{kind} should be {_LIST.words}: write [[{kind}]]")
        return []
    kept = []
    key, link_shape = _LINK[kind]
    for number, entry in enumerate(entries, 1):
        named = _is_text(entry.get("id"))
        name = entry["id"] if named else f"{kind} {number} of the file"
        wrong = _misfits(entry, _ENTRY[kind])
        if _LIST.fits(entry.get(key)):
            wrong += [f"{key} {i}: {what}" for i, x in enumerate(entry[key], 1) for what in _misfits(x, link_shape)]
        for what in wrong:
            if named:
                files.problem(file, _id(entry), f"{name}: {what}")
            else:
                files.problem(file, f"[[{kind}]]", f"{name}: {what}", nth=number)
        if not wrong:
            kept.append(entry)
    return kept


def _misfits(entry: Mapping[str, Any], shape: Mapping[str, _Key]) -> list[str]:
    wrong = [f"{k} is missing: {s.words}" for k, s in shape.items() if s.needed and k not in entry]
    for key, value in entry.items():
        if key not in shape:
            wrong.append(f"unknown key {key}{meant(key, shape)}")
        elif not shape[key].fits(value):
            wrong.append(f"{key} should be {shape[key].words}, not {str(value)[:60]!r}")
    return wrong
