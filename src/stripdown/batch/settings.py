"""What the user chose beside the records: tables to judge with, units and paper of the pages, the kind of kernel."""

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

KernelName = Literal["fast", "stock"]

_TABLES = ("costs", "limits", "knowledge", "columns")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """`costs`, `knowledge`, `columns` are files, `limits` a folder; None = ours. `purpose`: warranty or site."""

    costs: Path | None = None
    limits: Path | None = None
    knowledge: Path | None = None
    columns: Path | None = None
    system: str = "si"
    paper: str = "a4"
    purpose: str = "warranty"
    kernel: KernelName = "stock"

    def parameters(self) -> dict[str, str]:
        """The same for a notebook: text only, absolute paths, '' for ours."""
        tables = {name: getattr(self, name) for name in _TABLES}
        return {name: str(path.resolve()) if path else "" for name, path in tables.items()} | {
            "system": self.system,
            "paper": self.paper,
            "purpose": self.purpose,
        }

    def digest(self) -> str:
        """sha256 of all that can change a page: the choices and what stands in the chosen files, wherever they lie."""
        told = hashlib.sha256(f"{self.system} {self.paper} {self.purpose}".encode())
        for name in _TABLES:
            path: Path | None = getattr(self, name)
            files = sorted(path.rglob("*")) if path and path.is_dir() else [path] if path else []
            for file in (f for f in files if f.is_file()):
                told.update(f"{name} {file.name}".encode() + hashlib.sha256(file.read_bytes()).digest())
        return f"sha256:{told.hexdigest()}"
