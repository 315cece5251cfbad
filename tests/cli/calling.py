"""What the tests of the program share."""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]


class Answer(NamedTuple):
    """What a call gave: exit code, standard output, standard error."""

    code: int
    out: str
    err: str


Call = Callable[..., Answer]
