"""Which of the common wrong conclusions a record leads to, and which of its findings takes them back."""

from collections.abc import Iterator, Mapping

from stripdown.knowledge.lesson import Signs, Teaching, Wrong, matches
from stripdown.lesson.model import Tempted
from stripdown.record.model import Record


def tempted(
    teaching: Teaching,
    record: Record,
    answer: str | None,
    there: Mapping[str, int],
    sound: Mapping[str, int],
    measured: Mapping[str, int],
    labels: Mapping[str, str],
) -> tuple[Tempted, ...]:
    """In the order of the table. `there`, `sound`: finding → number of its station; `measured`: quantity → the same.

    `answer`: the first mechanism, None = not decided.
    """
    out = []
    for wrong in teaching.wrongs:
        if not wrong.is_mistake(answer):
            continue
        signs = list(_found(wrong.tempts, record, there, sound, measured))
        if not signs:
            continue
        at = min(station for _, station in signs)
        by = tuple(dict.fromkeys(labels.get(f, f) for f, station in signs if station == at))
        out.append(_taken_back(wrong, by, at, there, sound, labels))
    return tuple(out)


def _found(
    signs: Signs, record: Record, there: Mapping[str, int], sound: Mapping[str, int], measured: Mapping[str, int]
) -> Iterator[tuple[str, int]]:
    for patterns, found in ((signs.there, there), (signs.sound, sound)):
        for pattern in patterns:
            yield from ((f, at) for f, at in found.items() if matches(pattern, f))
    yield from ((q, measured[q]) for q in signs.quantities if q in measured)
    hours = record.unit.run_hours
    if signs.hours_below is not None and hours is not None and hours < signs.hours_below:
        yield f"only {hours:g} run hours", 1


def _taken_back(
    wrong: Wrong,
    by: tuple[str, ...],
    at: int,
    there: Mapping[str, int],
    sound: Mapping[str, int],
    labels: Mapping[str, str],
) -> Tempted:
    """The first finding of the table's order that takes it back, told no sooner than the temptation."""
    for patterns, found in ((wrong.refutes.there, there), (wrong.refutes.sound, sound)):
        for pattern in patterns:
            hits = sorted((station, f) for f, station in found.items() if matches(pattern, f))
            if hits:
                station, finding = hits[0]
                return Tempted(wrong, by, at, labels[finding], max(at, station))
    return Tempted(wrong, by, at, None, None)
