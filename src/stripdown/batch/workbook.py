"""What the notebooks call: open a case or a fleet, write the files. They hold no logic of their own."""

import base64
import json
import re
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stripdown import resources
from stripdown.batch.results import gather, json_line, renamed, write_text
from stripdown.batch.settings import Settings
from stripdown.case import Case
from stripdown.record import Fault, Record, RecordError, folder_name, only
from stripdown.record.text import cell

if TYPE_CHECKING:
    import pandas as pd
    from IPython.display import HTML

    from stripdown.fleet import FleetReport, Opened, Population

_DRAWING = re.compile(r"<svg\b.*?</svg>", re.DOTALL)
_OF_FAULT = ("file", "entry", "what", "fix")
DEMO_RECORD = "returns/tw-2025-016.toml"


def open_case(record: str, settings: Settings, *, claim: str = "", named: str = "") -> Case:
    """The case of one record: `claim` says which one where the file holds several; '' for `record` opens a demo record.

    `named` is what results call the file. Raises RecordError with every fault.
    """
    return settings.judge(one_record(record, settings, claim=claim, named=named))


def one_record(record: str, settings: Settings, *, claim: str = "", named: str = "") -> Record:
    """The record that `open_case` judges. Raises RecordError with every fault."""
    path = record or str(resources.demo() / DEMO_RECORD)
    named = named or record or DEMO_RECORD
    return only([renamed(r, path, named) for r in settings.read([path])], path, claim)


def folder(out: str) -> Path:
    """Where the files go; '' = a new temporary folder."""
    return Path(out) if out else Path(tempfile.mkdtemp(prefix="stripdown-"))


def show(fragment: str) -> "HTML":
    """A fragment of a page in a notebook: drawings as images, which a notebook shows before anybody has trusted it."""
    from IPython.display import HTML

    return HTML(_DRAWING.sub(_image, fragment))  # type: ignore[no-untyped-call]  # IPython is not typed here


def _image(drawing: re.Match[str]) -> str:
    said = re.search(r'aria-label="([^"]*)"', drawing[0])
    data = base64.b64encode(drawing[0].encode()).decode("ascii")
    return (
        f'<img alt="{said[1] if said else ""}" style="background: #fff; max-width: 100%" '
        f'src="data:image/svg+xml;base64,{data}">'
    )


def write_case(case: Case, out: Path, settings: Settings) -> dict[str, Any]:
    """Write page.html, page.pdf and result.json; give back what result.json says."""
    from stripdown.pages import case_html, case_pdf

    write_text(out / "page.html", case_html(case, **settings.show()))
    (out / "page.pdf").write_bytes(case_pdf(case, **settings.show()))
    return _write_result(out / "result.json", case.as_json())


def open_fleet(
    results: str,
    population: str,
    until: str,
    *,
    named: str = "",
    columns: str = "",
    change: str = "",
    **groups: Sequence[str],
) -> "FleetReport":
    """The report on the result lines of a file, or on the demo's returns and units where `results` is ''.

    `named` is what the report calls the table of units, `columns` a file with its own column names; `until` is an ISO
    date, '' = the latest failure or removal. `change` is an ISO date to compare before and after; `groups`: the model,
    site, contractor, changed_sites that are meant, none = all.
    """
    from stripdown.fleet import report

    lines, units = _fleet(results, population, named, Settings.of(columns=columns))
    meant: Any = groups
    return report(lines, units, until=_date(until), change=_date(change), **meant)


def open_returns(results: str, population: str, until: str, settings: Settings) -> "Opened":
    """The returns and units that `open_fleet` reports on, to be asked; `results` may also be records, judged now.

    Raises RecordError with every fault where none of them could be judged.
    """
    from stripdown.fleet import opened

    lines, units = _fleet(results, population, "", settings)
    told: list[tuple[Fault, ...]] = []
    fleet = opened(_noted(lines, told), units, until=_date(until))
    if fleet.rejected == len(told):
        none = Fault(results, "", "holds no record and no line of judge --json", "give one that holds some")
        raise RecordError([fault for faults in told for fault in faults] or [none])
    return fleet


def _noted(lines: "Iterator[dict[str, Any]]", told: list[tuple[Fault, ...]]) -> "Iterator[dict[str, Any]]":
    """The lines as they come; `told` takes the faults of each."""
    for line in lines:
        faults = line.get("faults")
        listed = [f for f in faults if isinstance(f, dict)] if isinstance(faults, list) else []
        told.append(tuple(Fault(*(str(f.get(k, "")) for k in _OF_FAULT)) for f in listed))
        yield line


def page_of(claim: str, file: str, results: str, out: str, settings: Settings) -> str:
    """The page of a return: as `batch` wrote it below `out`, else made now from its record; '' where neither can be.

    A relative `file` is looked for beside `results`.
    """
    from stripdown.pages import case_html

    written = Path(out) / folder_name(claim) / "page.html"
    if out and claim and written.resolve().is_relative_to(Path(out).resolve()) and written.is_file():
        return written.read_text(encoding="utf-8")
    try:
        settings = settings if results else _of_demo(settings)
        case = open_case(str(Path(results).parent / file), settings, claim=claim, named=file)
    except (RecordError, OSError):
        return ""
    return case_html(case, **settings.show())


def _fleet(
    results: str, population: str, named: str, settings: Settings
) -> "tuple[Iterator[dict[str, Any]], Population | None]":
    """Result lines and units; the demo's, judged with its limits, where `results` is ''."""
    if not results:
        results, settings = str(resources.demo() / "returns"), _of_demo(settings)
        if not population:
            population, named = str(resources.demo() / "units.csv"), "units.csv"
    units = _units(Path(population), named or population, settings) if population else None
    return gather([results], settings), units


def _of_demo(settings: Settings) -> Settings:
    return settings if settings.limits else replace(settings, limits=resources.demo() / "limits")


def _date(iso: str) -> date | None:
    return date.fromisoformat(iso) if iso else None


def _units(path: Path, named: str, settings: Settings) -> "Population":
    from stripdown.fleet import read_population

    read = read_population(path, columns=settings.own_columns("units"))
    return replace(read, file=named, notices=tuple(replace(n, file=named) for n in read.notices))


def write_fleet(report: "FleetReport", out: Path, paper: Any = "a4") -> dict[str, Any]:
    """Write fleet.html, fleet.pdf, fleet.json and the tables as CSV; give back what fleet.json says."""
    from stripdown.pages import fleet_html, fleet_pdf

    answer = report.as_json()
    write_text(out / "fleet.html", fleet_html(answer, paper=paper))
    (out / "fleet.pdf").write_bytes(fleet_pdf(answer, paper=paper))
    for name, table in report.tables().items():
        _as_cells(_in_six_digits(table)).to_csv(out / f"{name}.csv", index=False, lineterminator="\n")
    return _write_result(out / "fleet.json", answer)


def _as_cells(table: "pd.DataFrame") -> "pd.DataFrame":
    """The table with no text in it that a spreadsheet takes for a formula."""
    words = table.select_dtypes(["object", "string", "category"])
    return table.assign(**{str(column): values.map(cell) for column, values in words.items()})


def _in_six_digits(table: "pd.DataFrame") -> "pd.DataFrame":
    """Single-precision columns as text of the digits they hold; equal values are written out once, which is quicker."""
    import pandas as pd

    told = {}
    for column, values in table.select_dtypes("float32").items():
        codes, found = pd.factorize(values)
        words = pd.Index(["" if x != x else f"{x:.6g}" for x in [*found.tolist(), float("nan")]])
        told[str(column)] = words[codes]
    return table.assign(**told) if told else table


def _write_result(path: Path, result: dict[str, Any]) -> dict[str, Any]:
    line = json_line(result)
    write_text(path, line + "\n")
    return dict(json.loads(line))
