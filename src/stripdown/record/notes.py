"""The faults and notices of one record, gathered as they are found."""

from stripdown.record.fault import Fault

_MOST_FAULTS = 500


class Notes:
    """Faults and notices of one record, as they are found."""

    def __init__(self, file: str, folder: str) -> None:
        self.file = file
        self.folder = folder
        self.faults: list[Fault] = []
        self.notices: list[Fault] = []

    def fault(self, entry: str, what: str, fix: str) -> None:
        """Something that must be mended before the record can be read; a flood of them is cut."""
        if len(self.faults) < _MOST_FAULTS:
            self.faults.append(Fault(self.file, entry, what, fix))
        elif len(self.faults) == _MOST_FAULTS:
            self.faults.append(
                Fault(self.file, "", f"more than {_MOST_FAULTS} faults", "mend these first, then check again")
            )

    def notice(self, entry: str, what: str, fix: str) -> None:
        """Something a person should know."""
        self.notices.append(Fault(self.file, entry, what, fix))

    def blames(self, entry: str) -> bool:
        """Whether this entry has a fault already, so that nothing more need be said of it."""
        return any(fault.entry == entry for fault in self.faults)

    @property
    def full(self) -> bool:
        """Whether further faults would not be listed."""
        return len(self.faults) > _MOST_FAULTS
