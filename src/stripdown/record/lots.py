"""JSON lines too many to hold: lots of raw lines, in input order, that any process reads for itself.

A first pass over the file takes the claims alone, so that one that stands twice is known before the first lot.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from stripdown.record import lines, load
from stripdown.record.found import Places, with_places
from stripdown.record.model import Record, Rejected
from stripdown.record.parse import claim_of
from stripdown.record.text import named

LARGE = 2_000_000
"""Size [byte] from which on a file of JSON lines is not held as a whole."""


@dataclass(frozen=True, slots=True)
class Lot:
    """Some lines of a file, numbered; `doubled`: claim that stands more than once, case ignored → all its places."""

    file: str
    folder: str
    lines: tuple[tuple[int, bytes | None], ...]
    doubled: Mapping[str, Places]

    def read(self) -> list[Record | Rejected]:
        """What the lines hold, as `read_all` gives it for the whole file."""
        found = lines.from_lines(load.values(self.lines), self.file, self.folder)
        return [with_places(one, self.doubled) for one in found]


class Lots:
    """The lots of a large `.jsonl` file, `size` lines each; iterates over the file anew each time."""

    def __init__(self, path: str | Path, size: int) -> None:
        self._path, self._size = Path(path), size
        self._file = named(path)
        self.empty = True
        """Whether every line is blank."""
        self._doubled = self._claims()

    @staticmethod
    def serve(path: str | Path) -> bool:
        """Whether a path is a file of JSON lines that is better not held as a whole."""
        file = Path(path)
        return file.suffix.casefold() == ".jsonl" and file.is_file() and file.stat().st_size >= LARGE

    def __iter__(self) -> Iterator[Lot]:
        with self._path.open("rb") as file:
            numbered = load.raw_lines(file)
            while some := tuple(islice(numbered, self._size)):
                yield Lot(self._file, str(self._path.parent), some, self._doubled)

    def _claims(self) -> dict[str, Places]:
        first: dict[str, tuple[str, int]] = {}
        again: defaultdict[str, list[tuple[str, int]]] = defaultdict(list)
        with self._path.open("rb") as file:
            for number, value in load.json_lines(file):
                self.empty = False
                claim = claim_of(value)
                if claim is None:
                    continue
                if claim.casefold() in first:
                    again[claim.casefold()].append((claim, number))
                else:
                    first[claim.casefold()] = claim, number
        return {
            key: [(claim, f"{self._file}: line {number}") for claim, number in (first[key], *others)]
            for key, others in again.items()
        }
