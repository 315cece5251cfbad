"""What the program itself wrote, known by its form: where a folder is searched, none of it is a record."""

from collections.abc import Sequence
from pathlib import Path

from stripdown.record import sheets

_LEDGER = "ledger.jsonl"
_SPOOLED = ("standard-input.json", "standard-input.jsonl")
"""Copies of what came on standard input, kept beside the ledger of the run that read it."""

_TABLES = (
    {"claim", "file", "status", "first", "probability", "outcome", "expected_cost"},
    {"claim", "file", "status", "headline", "top_cause", "headline_probability", "expected_cost"},
)
"""Names in the first row of `index.csv`, and of the fleet's `returns.csv` of any version."""

_KEYS = (
    {"claim", "file", "status"},
    {"claim", "file", "record", "state"},
    {"returns", "rejected", "undecided", "until"},
    {"kept", "measure", "by", "looks"},
)
"""Keys of a result line, a ledger line, `fleet.json` and the explorer's looks; a record has `format` instead."""


def written_table(header: Sequence[str]) -> bool:
    """Whether a first row is that of a table which the program writes."""
    return any(names <= set(header) for names in _TABLES)


def written_json(raw: object) -> bool:
    """Whether a parsed JSON value is one which the program writes."""
    return isinstance(raw, dict) and "format" not in raw and any(keys <= raw.keys() for keys in _KEYS)


def by_place(path: Path) -> bool:
    """Whether a file's name and what stands beside it say so: a copy of standard input, the report of a fleet."""
    beside = _LEDGER if path.name in _SPOOLED else "fleet.ipynb" if path.name == "fleet.json" else ""
    return bool(beside) and path.with_name(beside).is_file()


def own_csv(path: Path) -> bool:
    """Whether a `.csv` is a table which the program writes; raises OSError."""
    return written_table(sheets.first_row(path))
