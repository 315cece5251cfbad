"""Results on their way out: what their entries are called in the user's file, and claims that stand more than once."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from stripdown.record.fault import Fault
from stripdown.record.load import UnreadableError
from stripdown.record.model import Record, Rejected

_MOST_NAMED = 5


def _as_it_is(entry: str) -> str:
    return entry


@dataclass(frozen=True, slots=True)
class Found:
    """A result, and how an entry of its record is called in the file it came from."""

    result: Record | Rejected
    call: Callable[[str], str] = _as_it_is

    @property
    def place(self) -> str:
        """File and, where it holds several records, the line or row."""
        return ": ".join(filter(None, (self.result.file, self.call(""))))


def renamed(result: Record | Rejected, call: Callable[[str], str]) -> Found:
    """A result whose faults and notices name entries as the user's file has them."""

    def anew(faults: tuple[Fault, ...]) -> tuple[Fault, ...]:
        return tuple(replace(f, entry=call(f.entry)) for f in faults)

    if isinstance(result, Rejected):
        return Found(replace(result, faults=anew(result.faults)), call)
    return Found(replace(result, notices=anew(result.notices)) if result.notices else result, call)


Places = Sequence[tuple[str, str]]
"""A claim as it is written, and where it stands."""


def unique(found: list[Found]) -> list[Record | Rejected]:
    """All results; every record whose claim stands more than once, case ignored, rejected with the others named."""
    together: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    for one in found:
        if one.result.claim is not None:
            together[one.result.claim.casefold()].append((one.result.claim, one.place))
    return [with_places(one, together) for one in found]


def with_places(one: Found, together: Mapping[str, Places]) -> Record | Rejected:
    """The result; rejected where its claim stands in other places too. `together`: claim, case ignored → all places."""
    result = one.result
    places = together.get(result.claim.casefold(), ()) if result.claim else ()
    if len(places) < 2:
        return result
    others = [(claim, place) for claim, place in places if place != one.place]
    named = ", ".join(f"{claim} in {place}" for claim, place in others[:_MOST_NAMED])
    if len(others) > _MOST_NAMED:
        named += f" and {len(others) - _MOST_NAMED} more"
    fault = Fault(
        result.file, one.call("claim"), f"{result.claim} stands again: {named}", "give each record a claim of its own"
    )
    faults = result.faults if isinstance(result, Rejected) else ()
    return Rejected(claim=result.claim, file=result.file, faults=(*faults, fault))


def rejection(file: str, error: UnreadableError, entry: str = "") -> Rejected:
    """A file, or a line of it, of which nothing could be read."""
    return Rejected(claim=None, file=file, faults=(Fault(file, entry, error.what, error.fix),))
