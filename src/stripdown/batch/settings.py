"""What the user chose beside the records: tables to judge with, units and paper of the pages, the kind of kernel.

A worker of a batch hands settings on and judges nothing: what judges is imported where it is called.
"""

import hashlib
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Self

from stripdown.record import Fault, Record, Rejected, read_all, read_columns

if TYPE_CHECKING:
    from stripdown.case import Case
    from stripdown.knowledge import Knowledge
    from stripdown.lesson import Lesson

KernelName = Literal["fast", "stock"]
FORKS = sys.platform == "linux"

_TABLES = ("costs", "limits", "knowledge", "columns")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """`costs`, `knowledge`, `columns` are files, `limits` a folder; None = ours. `purpose`: warranty or site.
    `parts_kept`: days from the examination that a page promises; None = it says nothing of them.

    `kernel` None = the quicker one: forked for many records where that can be done, else stock.
    """

    costs: Path | None = None
    limits: Path | None = None
    knowledge: Path | None = None
    columns: Path | None = None
    system: str = "si"
    paper: str = "a4"
    purpose: str = "warranty"
    parts_kept: int | None = None
    kernel: KernelName | None = None

    def kernel_for(self, records: int) -> KernelName:
        """The kind of kernel for so many records; forking pays from the second one on."""
        return self.kernel or ("fast" if FORKS and records > 1 else "stock")

    @classmethod
    def of(cls, **choices: str) -> Self:
        """Settings from the parameters of a notebook: '' = ours, of `parts_kept` none."""
        tables = {name: Path(path) if (path := choices.pop(name, "")) else None for name in _TABLES}
        kept = choices.pop("parts_kept", "")
        return cls(**tables, parts_kept=int(kept) if kept else None, **choices)  # type: ignore[arg-type]  # rest is text

    def parameters(self) -> dict[str, str]:
        """The same for a notebook: text only, absolute paths, '' for ours."""
        tables = {name: getattr(self, name) for name in _TABLES}
        return {name: str(path.resolve()) if path else "" for name, path in tables.items()} | {
            "system": self.system,
            "paper": self.paper,
            "purpose": self.purpose,
            "parts_kept": str(self.parts_kept or ""),
        }

    def show(self) -> dict[str, Any]:
        """How a page of a case is to be shown."""
        return {"purpose": self.purpose, "system": self.system, "paper": self.paper, "parts_kept": self.parts_kept}

    def check(self) -> None:
        """Read every table that was chosen; raises RecordError or KnowledgeError with every fault, several in a group.

        Done before a run, so that a faulty table costs the call and not each of its records.
        """
        readers: dict[str, Callable[[Path], object]]
        readers = {"costs": _costs, "limits": _sheets, "knowledge": _knowledge, "columns": read_columns}
        chosen = {name: path for name in _TABLES if (path := getattr(self, name)) is not None}
        for cached in (_costs, _sheets, _knowledge) if chosen else ():
            cached.cache_clear()  # a file may have changed, or the working folder, since this process read it
        wrong: list[ValueError] = []
        for name, path in chosen.items():
            try:
                readers[name](path)
            except ValueError as faulty:
                wrong.append(faulty)
        if len(wrong) > 1:
            raise ExceptionGroup("tables to mend", wrong)
        if wrong:
            raise wrong[0]

    def read(self, paths: Sequence[str], passed_over: list[Fault] | None = None) -> list[Record | Rejected]:
        """All records below the paths, in input order."""
        columns = read_columns(self.columns) if self.columns else None
        return read_all(paths, columns=columns, passed_over=passed_over)

    def own_columns(self, sheet: str) -> Mapping[str, str]:
        """Own names of the columns of a sheet → ours, by the columns file."""
        return read_columns(self.columns).own.get(sheet, {}) if self.columns else {}

    def judge(self, record: Record, *, brief: bool = False) -> "Case":
        """The case of a record by these tables, read once a process."""
        from stripdown.case import judge

        return judge(record, **_tables(self.knowledge, self.limits, self.costs), brief=brief)

    def judge_many(self, records: Sequence[Record]) -> "list[Case]":
        """The brief case of each record, for less work than one at a time."""
        from stripdown.case import judge_many

        return judge_many(records, **_tables(self.knowledge, self.limits, self.costs))

    def lesson(self, record: Record) -> "Lesson":
        """The lesson of a record by these tables."""
        from stripdown.lesson import plan

        return plan(record, **_tables(self.knowledge, self.limits, self.costs))

    def tables(self) -> dict[str, Any]:
        """Knowledge, limit sheets and costs, read once a process."""
        return _tables(self.knowledge, self.limits, self.costs)

    def knowledge_used(self) -> "Knowledge":
        """The knowledge that is reasoned with."""
        return _knowledge(self.knowledge)

    def knowledge_hash(self) -> str:
        """What names the numbers that are reasoned with."""
        return self.knowledge_used().digest

    def digest(self) -> str:
        """sha256 of all that can change a page: the choices and what stands in the chosen files, wherever they lie."""
        told = hashlib.sha256(f"{self.system} {self.paper} {self.purpose} {self.parts_kept}".encode())
        for name in _TABLES:
            path: Path | None = getattr(self, name)
            files = sorted(path.rglob("*")) if path and path.is_dir() else [path] if path else []
            for file in (f for f in files if f.is_file()):
                told.update(f"{name} {file.name}".encode() + hashlib.sha256(file.read_bytes()).digest())
        return f"sha256:{told.hexdigest()}"


def _tables(knowledge: Path | None, limits: Path | None, costs: Path | None) -> dict[str, Any]:
    return {"knowledge": _knowledge(knowledge), "sheets": _sheets(limits), "costs": _costs(costs)}


@cache
def _knowledge(own: Path | None) -> "Knowledge":
    from stripdown.knowledge import load

    return load(own)


@cache
def _sheets(own: Path | None) -> Any:
    from stripdown.limits.load import load_sheets

    return load_sheets(own)


@cache
def _costs(own: Path | None) -> Any:
    from stripdown.reasoning.costs import Costs, default_costs

    return default_costs() if own is None else Costs.load(own)
