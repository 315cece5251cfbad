"""What a person should know of the returns and units: one notice for all rows of a kind, how many and which."""

import pandas as pd

from stripdown.record.fault import Fault

_NAMED = 5
"""Rows of a kind that are named one by one."""


def counted(file: str, number: int, what: str, fix: str, names: pd.Series | None = None) -> list[Fault]:
    """One notice for all rows of a kind: how many, and the first few by name; none where there are none."""
    if not number:
        return []
    told = [] if names is None else sorted({str(n) for n in names if str(n)})
    some = "" if not told else f" ({', '.join(told[:_NAMED])}{', …' if len(told) > _NAMED else ''})"
    return [Fault(file, "", f"{what}: {number}{some}", fix)]


class Notes:
    """The notices of one joining, all of the same file."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Fault] = []

    def count(self, number: int, what: str, fix: str, names: pd.Series | None = None) -> None:
        self.faults += counted(self.file, number, what, fix, names)
