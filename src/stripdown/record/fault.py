"""One thing a person should mend or know about a file: where, what, and what would be right."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """`entry` is the place in the file, as `readings[3].unit` (counted from 1); empty = the whole file."""

    file: str
    entry: str
    what: str
    fix: str

    def __str__(self) -> str:
        place = f"{self.file}: {self.entry}" if self.entry else self.file
        return f"{place}: {self.what}; {self.fix}"

    def as_json(self) -> dict[str, str]:
        """Keys file, entry, what, fix."""
        return asdict(self)


class RecordError(ValueError):
    """A file that holds no readable record; `faults` lists everything that is wrong with it."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))
