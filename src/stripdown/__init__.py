"""Failure analysis of semi-hermetic refrigeration compressors, from teardown record to root cause and fleet.

>>> import stripdown
>>> record = stripdown.read("returns/nb-0117.toml")  # doctest: +SKIP
>>> stripdown.judge(record).finding.status  # doctest: +SKIP
'established'
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from stripdown.version import __version__

if TYPE_CHECKING:
    from stripdown.case import Case, judge
    from stripdown.fleet import read_population, report, table
    from stripdown.record import Fault, Record, RecordError, Rejected, read, read_all

__all__ = [
    "Case",
    "Fault",
    "Record",
    "RecordError",
    "Rejected",
    "__version__",
    "judge",
    "read",
    "read_all",
    "read_population",
    "report",
    "table",
]

_ROOMS = {
    "case": ("Case", "judge"),
    "fleet": ("read_population", "report", "table"),
    "record": ("Fault", "Record", "RecordError", "Rejected", "read", "read_all"),
}


def __getattr__(name: str) -> Any:
    """Import a room once one of its names is asked for, so that `import stripdown` costs nothing."""
    for room, names in _ROOMS.items():
        if name in names:
            return getattr(import_module(f"stripdown.{room}"), name)
    raise AttributeError(f"module 'stripdown' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
