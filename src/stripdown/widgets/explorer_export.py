"""What the explorer shows, as files: the figure as SVG and PNG, the numbers as CSV."""

import csv
import io
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from stripdown.figures import explored, lives
from stripdown.figures.figure import Figure
from stripdown.fleet.tables import tables
from stripdown.pages import png
from stripdown.record.text import cell
from stripdown.widgets import explorer_words as words
from stripdown.widgets.explorer import REST_WORDS, Explorer
from stripdown.widgets.explorer_compare import REST
from stripdown.widgets.explorer_life import CURVES
from stripdown.widgets.explorer_measure import METHODS, Bar

_NUMBERED = re.compile(r"explorer-(\d+)")
_BAR_COLUMNS = ("among", "measure", "by", "group", "returns", "value", "low", "high", "unit", "method")
_LOOK_COLUMNS = ("among", "measure", "by", "group", "against", "group_value", "against_value", "change", "kind",
                 "low", "high", "p", "p_corrected", "looks")  # fmt: skip


def save(explorer: Explorer, folder: Path) -> str:
    """Write what is on show into `folder`; says what was written, or why nothing could be."""
    figure, numbers = _on_show(explorer)
    if not numbers:
        return "Not saved: there is no answer to save"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        used = [int(m[1]) for f in folder.iterdir() if (m := _NUMBERED.match(f.name))]
        stem = f"explorer-{1 + max(used, default=0):03d}"
        files = {f"{stem}{name}.csv": text.encode() for name, text in numbers.items()}
        if figure is not None:
            files |= {f"{stem}.svg": figure.svg.encode(), f"{stem}.png": png(figure.svg)}
        for name, data in files.items():
            (folder / name).write_bytes(data)
    except OSError as error:
        return f"Not saved: {folder} cannot be written ({error.strerror or type(error).__name__})"
    return f"Saved in {folder}: {', '.join(sorted(files))}"


def _on_show(explorer: Explorer) -> tuple[Figure | None, dict[str, str]]:
    """The figure, and the tables by what their files are called."""
    if explorer.panel in CURVES:
        told = explorer.curves(explorer.panel)
        if isinstance(told, str):
            return None, {}
        made = tables(told | {"by": {}}, explorer.fleet.returns.iloc[:0])
        figure = (lives.life if explorer.panel == "life" else lives.incidence)(told)
        names = ("life", "kaplan_meier") if explorer.panel == "life" else ("incidence",)
        return figure, {f"-{n}": _csv(made[n].columns, made[n].to_dict("records")) for n in names if len(made[n])}
    if explorer.choice.silent:
        return None, {}
    numbers = {"": _csv(_BAR_COLUMNS, _bars(explorer))}
    if explorer.looks:
        numbers["-looks"] = _csv(_LOOK_COLUMNS, _looks(explorer))
    return explored.bars(_told(explorer)), numbers


def _told(explorer: Explorer) -> dict[str, Any]:
    """The bars on show as the figure takes them; shares in percent."""
    choice = explorer.choice
    sort, currency = choice.measure.sort, choice.table.currency
    times = 100.0 if "share" in sort else 1.0
    rows = [
        {"name": words.name_words(choice.by, b.name), "value": times * b.value, "low": times * b.low,
         "high": times * b.high, "said": words.bar_words(b, choice)}
        for b in explorer.bars
    ]  # fmt: skip
    return {
        "title": f"{words.measure_words(choice.measure)}; {words.kept_words(choice.kept)}",
        "axis": words.axis_words(sort, currency),
        "rows": rows,
        "together": times * choice.together.value if sort != "count" else float("nan"),
    }


def _bars(explorer: Explorer) -> list[dict[str, Any]]:
    """Every group, also those not on show, and all together."""
    choice = explorer.choice
    shared = {
        "among": words.kept_words(choice.kept),
        "measure": words.measure_words(choice.measure),
        "by": choice.by,
        "unit": words.axis_words(choice.measure.sort, choice.table.currency).replace("[%]", "[1]"),
        "method": METHODS[choice.measure.sort],
    }

    def row(b: Bar) -> dict[str, Any]:
        return shared | {"group": b.name, "returns": b.returns, "value": b.value, "low": b.low, "high": b.high}

    return [row(b) for b in (*choice.measured(choice.groups), choice.together)]


def _looks(explorer: Explorer) -> list[dict[str, Any]]:
    return [
        {
            "among": words.kept_words(k.question.kept),
            "measure": words.measure_words(k.question.measure),
            "by": k.question.by,
            "group": k.question.a,
            "against": REST_WORDS if k.question.b == REST else k.question.b,
            "group_value": k.difference.a,
            "against_value": k.difference.b,
            "change": k.difference.change,
            "kind": "ratio" if k.difference.is_ratio else "difference",
            "low": k.difference.low,
            "high": k.difference.high,
            "p": k.difference.p,
            "p_corrected": p,
            "looks": len(explorer.looks),
        }
        for k, p in zip(explorer.looks, explorer.corrected, strict=True)
    ]


def _csv(columns: Iterable[str], rows: Iterable[Mapping[Any, Any]]) -> str:
    """Numbers with twelve digits, nothing where there is none; no text is taken for a formula."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    columns = list(columns)
    table.writerow(columns)
    for row in rows:
        table.writerow(_plain(row[c]) for c in columns)
    return out.getvalue()


def _plain(value: object) -> object:
    if isinstance(value, float):
        return "" if value != value else f"{value:.12g}"
    return cell(value)
