"""The fleet notebook run over result lines, its folder put in place whole."""

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import Any

from stripdown.batch import folder, notebook
from stripdown.batch.results import json_line, write_text
from stripdown.batch.settings import Settings

RESULTS = "results.jsonl"
"""The result lines, kept beside the notebook so that it can be run again."""


def run(
    lines: Iterable[Mapping[str, Any]],
    out: Path,
    settings: Settings,
    *,
    population: Path | None = None,
    named: str = "",
    until: date | None = None,
    change: date | None = None,
    groups: Mapping[str, Sequence[str]] = MappingProxyType({}),
) -> dict[str, Any]:
    """Write `out/fleet` and give back the object of `fleet --json`; raises NotebookError.

    `named` is what the report calls the table of units; `groups`: model, site, contractor, changed_sites → those meant.
    """
    out.mkdir(parents=True, exist_ok=True)
    with folder.whole(out / "fleet") as fresh:
        write_text(fresh / RESULTS, "".join(json_line(line) + "\n" for line in lines))
        parameters = {
            "results": RESULTS,
            "population": str(population.resolve()) if population else "",
            "named": named,
            "columns": settings.parameters()["columns"],
            "until": until.isoformat() if until else "",
            "change": change.isoformat() if change else "",
            **{name: list(meant) for name, meant in groups.items()},
            "paper": settings.paper,
            "out": ".",
        }
        notebook.run("fleet", fresh, parameters, kernel=settings.kernel_for(1), kept=folder.failed(out, "fleet"))
        return dict(json.loads((fresh / "fleet.json").read_text(encoding="utf-8")))
