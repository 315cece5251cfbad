"""Sheets whose rows were prepared for a person to fill in (`stripdown sheet --form workbook`): which rows are entries.

Such a sheet has a column `(step)`. Columns in round brackets are for the person and hold no data. A row in which
nothing was filled in was not looked at, which is no entry; and where one compressor stands in `returns`, all rows are
its own.
"""

from typing import Any

from stripdown import vocabulary
from stripdown.record import schema

STEP = "(step)"
"""The column that makes a sheet a prepared one."""

EXTENTS = {"sound": "none", "yes": "heavy", "cannot read": "unreadable"}
"""The words of the printed sheet → extents; those themselves will do too."""
NOT_LOOKED_AT = "not looked at"


def answers(part: str, condition: str) -> tuple[str, ...]:
    """What may be said of a condition: of one that is there or not, and of a crank that turns or not, no grade."""
    if part in schema.EXCLUSIVE:
        return ("yes", "cannot read", NOT_LOOKED_AT)
    if vocabulary.presence_only(part, condition):
        return ("sound", "yes", "cannot read", NOT_LOOKED_AT)
    return ("sound", "slight", "heavy", "cannot read", NOT_LOOKED_AT)


_FILLED_IN = {
    "readings": ("temperature", "accuracy", "test_voltage", "gas", "time"),
    "observations": ("where", "photo", "note"),
}
"""Columns in which nothing is prepared; the answer itself aside."""


def for_people(header: str) -> bool:
    """Whether a column holds no data."""
    name = header.strip()
    return name.startswith("(") and name.endswith(")")


def entry(sheet: str, values: dict[str, Any]) -> dict[str, Any] | None:
    """What a prepared row says, by our column names; None where it was not filled in."""
    if sheet == "readings":
        if "temperature" not in values:
            values.pop("temperature_unit", None)
        return values if "value" in values or _any(sheet, values) else None
    if sheet == "observations":
        extent = values.get("extent")
        word = extent.casefold() if isinstance(extent, str) else ""
        if word == NOT_LOOKED_AT or not (word or _any(sheet, values)):
            return None
        return values | {"extent": EXTENTS.get(word, word)}  # an empty one is a fault: a note alone says nothing
    return values or None


def _any(sheet: str, values: dict[str, Any]) -> bool:
    return any(name in values for name in _FILLED_IN[sheet])
