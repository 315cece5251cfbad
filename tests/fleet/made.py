"""Result lines and populations made for tests, small enough to count by hand."""

from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from stripdown.fleet import Population, read_population

START = date(2020, 1, 1)


def line(
    claim: str,
    *,
    first: Mapping[str, float] | None = None,
    causes: Mapping[str, float] | None = None,
    serial: str | None = None,
    age: int | None = 400,
    installed: date | None = START,
    status: str | None = None,
    parts: tuple[str, ...] = ("main_bearing",),
    **more: Any,
) -> dict[str, Any]:
    """One line of `judge --json`; `age` [day] gives the day of failure; `more`: fields of unit, history or the line."""
    first = first or {"floodback": 1.0}
    shares = sorted(first.items(), key=lambda p: -p[1])
    top = shares[0][1]
    unit = {"serial": serial or f"S-{claim}", "model": more.pop("model", "K4-150")}
    history: dict[str, Any] = {}
    if installed is not None:
        history["installed"] = installed.isoformat()
        if age is not None:
            history["failed"] = (installed + timedelta(days=age)).isoformat()
    for key in ("built", "refrigerant"):
        if key in more:
            unit[key] = more.pop(key)
    for key in ("site", "contractor", "duty", "opened_before", "replaces", "failed", "returned"):
        if key in more:
            history[key] = more.pop(key)
    out: dict[str, Any] = {
        "claim": claim,
        "file": f"{claim}.toml",
        "status": status or ("established" if top >= 0.9 else "likely" if top >= 0.6 else "open"),
        "unit": unit,
        "history": history,
        "first": [{"id": i, "probability": p} for i, p in shares],
        "mechanisms": [{"id": i, "probability": p} for i, p in shares],
        "causes": [{"id": i, "probability": p} for i, p in (causes or {"low_load": 0.8}).items()],
        "outcome": {"id": "replace_compressor", "expected_cost": 2000.0, "currency": "EUR", "alternatives": []},
        "liability": [{"id": "system", "probability": 0.9}],
        "avoidable": {"return": first.get("no_fault", 0.0), "failure": 0.5},
        "readings": [],
        "notices": [],
        "conflict": None,
        "unexplained": [],
        "confirmed": [],
        "parts": list(parts),
        "knowledge": "sha256:1",
        "version": "0.1.0",
    }
    return out | more


REJECTED = {"claim": None, "file": "bad.toml", "status": "rejected", "faults": []}


def population(
    folder: Path, rows: list[str], head: str = "serial,model,site,contractor,built,installed,removed"
) -> Population:
    """The units table of some rows of CSV."""
    path = folder / "units.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return read_population(path)
