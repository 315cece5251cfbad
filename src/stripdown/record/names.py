"""What a claim's files are called, so that they can lie on any system."""

import re

_DEVICE = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(?= *(\.|$))", re.ASCII | re.IGNORECASE)
_MARK = "+"
"""Stands in no claim, so that no other claim can have the name."""


def folder_name(claim: str) -> str:
    """The claim itself, with a + where Windows would not have it: after the name of a device, after a last dot.

    There `CON` and `con.2` name a device, and `A.` names the same folder as `A`. A file named after a claim has this
    before its ending. `a1` and `A1` name one folder there and stay as they are: they are one claim in any batch.
    """
    name = _DEVICE.sub(rf"\1{_MARK}", claim, count=1) if _DEVICE.match(claim) else claim
    return f"{name}{_MARK}" if name.endswith(".") else name
