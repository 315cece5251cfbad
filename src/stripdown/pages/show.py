"""How a page is to be shown: for whom, in which units, on which paper."""

from dataclasses import dataclass
from typing import Literal

Purpose = Literal["warranty", "site"]
Paper = Literal["a4", "letter"]
_ALLOWED = {"purpose": ("warranty", "site"), "system": ("si", "us"), "paper": ("a4", "letter")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """`purpose` site leaves out the proposal on liability and all prices. `parts_kept`: days from the examination,
    None = nothing is said of it."""

    purpose: Purpose = "warranty"
    system: Literal["si", "us"] = "si"
    paper: Paper = "a4"
    parts_kept: int | None = None

    def __post_init__(self) -> None:
        for name, allowed in _ALLOWED.items():
            if getattr(self, name) not in allowed:
                raise ValueError(f"{name} is {getattr(self, name)!r}: it is one of {', '.join(allowed)}")
