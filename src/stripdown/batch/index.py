"""`index.html` and `index.csv`: what became of every record of a run, with what needs a person first."""

import csv
import io
import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from stripdown.batch import folder
from stripdown.record import Record, Rejected, folder_name
from stripdown.record.text import cell

PAGE = "index.html"
_COLUMNS = ("claim", "file", "status", "first", "probability", "outcome", "expected_cost", "currency",
            "serial", "model", "site", "contractor", "failed", "faults", "signed_by")  # fmt: skip


def write(ended: Iterable[tuple[Record | Rejected, Mapping[str, Any]]], out: Path, *, own_costs: bool) -> None:
    """Write both from each record with its ledger line, and the results of those that are done. Raises OSError.

    `own_costs`: whether they were priced by the user's own table.
    """
    from stripdown.pages import index_html

    rows = [_row(record, line, out) for record, line in ended]
    folder.put(out / PAGE, index_html(rows, own_costs=own_costs))
    folder.put(out / "index.csv", as_csv(rows))


def _row(record: Record | Rejected, line: Mapping[str, Any], out: Path) -> dict[str, Any]:
    """A result line with its state; of a record that came to nothing what is known of it."""
    if line["state"] == "done":
        path = out / folder_name(line["claim"]) / "result.json"
        result: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        return result | {"state": "done"}
    row = {name: line[name] for name in ("claim", "file", "state", "faults")} | {"status": line["state"]}
    if isinstance(record, Record):
        row |= {"unit": record.unit_json(), "history": record.history_json()}
    return row


def as_csv(rows: Iterable[Mapping[str, Any]]) -> str:
    """One line a record; no cell is taken for a formula by the program that opens it."""
    from stripdown.pages.index import signed_by

    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(_COLUMNS)
    for row in rows:
        done = row["state"] == "done"
        first = row["first"][0] if done else {}
        outcome = row["outcome"] if done else {}
        unit, history = row.get("unit", {}), row.get("history", {})
        told = " | ".join(
            f"{f['entry']}: ".removeprefix(": ") + f"{f['what']}; {f['fix']}" for f in row.get("faults", ())
        )
        table.writerow(
            cell(value)
            for value in (
                row["claim"], row["file"], row["status"], first.get("id"), first.get("probability"), outcome.get("id"),
                outcome.get("expected_cost"), outcome.get("currency"), unit.get("serial"), unit.get("model"),
                history.get("site"), history.get("contractor"), history.get("failed"), told, signed_by(row),
            )
        )  # fmt: skip
    return text.getvalue()
