"""Resistances, insulation, voltages and currents that cannot all be true of one motor.

Any network of resistances between three terminals reads like a star of three resistances of 0 or more, so that no pair
reads more than the other two together, and insulation of parts joined by copper is one insulation. Line currents
without a return, and voltages round a loop, sum to zero at every moment (Kirchhoff), so that none is more than the
other two together, whatever their phase and form.
"""

from collections.abc import Iterator, Sequence
from math import inf

from stripdown.bench.electrical import at_temperature
from stripdown.bench.measurement import combined
from stripdown.limits.together.model import COVERAGE, Facts, Found, found
from stripdown.record.model import Reading
from stripdown.record.schema import HALF_PAIRS, LINE_PAIRS, LINES, PHASE_FRAMES, SINGLE_PAIRS, STAR_PAIRS

_TRIOS = (STAR_PAIRS, HALF_PAIRS[:3], HALF_PAIRS[3:], SINGLE_PAIRS)
_CLOSED = 1000.0
"""Resistance [ohm] below which a pair of a motor is a closed way (estimate)."""
_SHORT = 1.0
"""What a meter may call a short between two leads [ohm] (estimate)."""
_CONTACT, _DRIFT = 0.05, 0.05
"""Contact of the probes [ohm], and share by which a winding may change while three pairs are read (estimates)."""
_EARTHED, _POOR, _CLEAR = 1e5, 1e6, 5e6
"""Insulation [ohm]: in contact with the frame, below the class's danger, above its limit."""
_TEST_VOLTAGE = 500.0
"""Test voltage [V] where none is stated, as IEEE 43 takes below 1 kV."""
_WARMER = 15.0
"""Temperatures further apart [K] are two states of one insulation (estimate)."""
_LOAD = 0.2
"""Share by which the load may move between one line and the next (estimate)."""


def _ohms(r: Reading) -> float:
    if r.base is None:
        return inf if r.value == "open" else _SHORT
    return r.base


def _pairs(f: Facts, *, ends: Sequence[str]) -> Iterator[dict[str, Reading]]:
    """Pairs of one winding read at one moment and place; read twice, those of one temperature; read twice at that,
    none."""
    groups: dict[tuple[object, ...], list[Reading]] = {}
    for r in f.readings("winding_resistance"):
        if r.between in ends:
            groups.setdefault((f.ctx.moments[r.entry], r.at), []).append(r)
    for group in groups.values():
        states: dict[float | None, list[Reading]] = {None: group}
        if len({r.between for r in group}) < len(group):
            states = {}
            for r in group:
                states.setdefault(r.temperature, []).append(r)
        for state in states.values():
            pairs = {str(r.between): r for r in state}
            if len(pairs) == len(state):
                yield pairs


def windings(f: Facts) -> Iterator[Found]:
    """Three pairs of a winding, of which none reads more than the other two together."""
    for trio in _TRIOS:
        for pairs in _pairs(f, ends=trio):
            if len(pairs) == 3:
                yield from _trio(f, [pairs[p] for p in trio])


def _trio(f: Facts, trio: list[Reading]) -> Iterator[Found]:
    even = all(r.temperature is not None for r in trio)
    factors = [at_temperature(1.0, r.temperature, 20.0) if even and r.temperature is not None else 1.0 for r in trio]
    ohms = [_ohms(r) * k for r, k in zip(trio, factors, strict=True)]
    spreads = [f.ctx.uncertainty(r) * k for r, k in zip(trio, factors, strict=True)]
    margin = COVERAGE * float(combined(*spreads)) + _CONTACT
    top = max(range(3), key=lambda i: ohms[i])
    others = [r for i, r in enumerate(trio) if i != top]
    together = sum(o for i, o in enumerate(ohms) if i != top)
    if together >= _CLOSED:
        return
    most, two = trio[top], _names(others)
    apart = most.at == "leads" and f.ctx.unit.motor in ("delta", None)
    more = ": unless its coils were taken apart and read each by itself" if apart else ""
    if ohms[top] == inf:
        yield found(f"{most.between} is open although {two} are closed{more}", *trio, hard=not apart)
    elif ohms[top] > together + margin + _DRIFT * together:
        what = f"{most.between} reads {ohms[top]:.3g} ohm, {two} together only {together:.3g} ohm{more}"
        yield found(what, *trio, hard=not apart)
    elif set(SINGLE_PAIRS) == {r.between for r in trio}:
        start_run, series = ohms[0], ohms[1] + ohms[2]
        if abs(start_run - series) > margin + _DRIFT * series:
            what = f"S-R reads {start_run:.3g} ohm, C-S and C-R in series {series:.3g} ohm"
            yield found(
                f"{what}: labels exchanged, turns bridged, or a protector in the common lead", *trio, hard=False
            )


def insulation(f: Facts) -> Iterator[Found]:
    """All to frame against its phases and halves, and phases that their windings join. Where the record does not say
    at which place they were read, the plate may have been between: then it is only told."""
    groups: dict[tuple[object, ...], list[Reading]] = {}
    for r in f.readings("insulation_resistance"):
        groups.setdefault((f.ctx.moments[r.entry], r.at, r.gas), []).append(r)
    for group in groups.values():
        whole = [r for r in group if r.between == "all-frame"]
        single = [r for r in group if r.between != "all-frame"]
        yield from _whole(whole, single)
        yield from _joined(f, [r for r in single if r.between in PHASE_FRAMES])


def _frame(r: Reading) -> float:
    if r.base is None:
        return inf if r.value == "open" else 0.0
    return r.base


def _bad(low: Reading, clear: Reading) -> bool | None:
    """Whether `low` is earthed, or only poor (False), where `clear` cannot be clear then; None = they go together.

    An insulation that breaks down under voltage may be clear at a lower one, a damp one clear once it is warm.
    """
    if not (_frame(low) < _POOR and _frame(clear) >= _CLEAR):
        return None
    if (low.test_voltage or _TEST_VOLTAGE) > (clear.test_voltage or _TEST_VOLTAGE):
        return None
    known = low.temperature is not None and clear.temperature is not None
    if known and abs(float(low.temperature or 0.0) - float(clear.temperature or 0.0)) > _WARMER:
        return None
    return _frame(low) <= _EARTHED


def _whole(whole: list[Reading], single: list[Reading]) -> Iterator[Found]:
    if len(whole) != 1:
        return
    every = whole[0]
    low = [(r, bad) for r in single if (bad := _bad(r, every)) is not None]
    if low:
        names = ", ".join(str(r.between) for r, _ in low)
        hard = any(bad for _, bad in low) and every.at is not None
        yield found(f"all-frame is clear although {names} alone is not", every, *(r for r, _ in low), hard=hard)
    phases = [r for r in single if r.between in PHASE_FRAMES]
    verdicts = [_bad(every, r) for r in phases]
    if {r.between for r in phases} == set(PHASE_FRAMES) and None not in verdicts:
        what = "all-frame is earthed although each phase alone is clear"
        yield found(what, every, *phases, hard=all(verdicts) and every.at is not None)


def _joined(f: Facts, phases: list[Reading]) -> Iterator[Found]:
    """An earthed and a clear phase between which the winding of the same moment and place reads closed."""
    for pairs in _pairs(f, ends=STAR_PAIRS):
        some = next(iter(pairs.values()))
        if not phases or (f.ctx.moments[some.entry], some.at) != (f.ctx.moments[phases[0].entry], phases[0].at):
            continue
        closed = [r for r in pairs.values() if _ohms(r) < _CLOSED]
        for low in phases:
            for clear in phases:
                bad = _bad(low, clear)
                way = [] if bad is None else _way(closed, str(low.between)[0], str(clear.between)[0])
                if way:
                    through = " and ".join(str(r.between) for r in way)
                    what = f"{low.between} is earthed and {clear.between} clear, but {through} is closed"
                    star = f.ctx.unit.motor == "star"
                    more = "" if star else ": unless the links of the terminals were taken out between the two tests"
                    yield found(what + more, low, clear, *way, hard=bool(bad) and star and low.at is not None)
                    return


def _way(closed: list[Reading], start: str, end: str) -> list[Reading]:
    """Closed pairs that lead from one phase to another, one or two of them; empty = none do."""
    for r in closed:
        if {start, end} == set(str(r.between).split("-")):
            return [r]
    by_third = [r for r in closed if {start, end} & set(str(r.between).split("-"))]
    return by_third if len(by_third) == 2 else []


def currents(f: Facts) -> Iterator[Found]:
    """Three line currents of one moment."""
    for lines in _lines(f, "running_current", LINES):
        top, others = _apart(lines)
        together = sum(float(r.base or 0.0) for r in others)
        over = float(top.base or 0.0) - together - f.margin(*lines)
        if over <= _LOAD * float(top.base or 0.0):
            continue
        frame = f.readings("insulation_resistance")
        if any(_frame(r) < _POOR for r in frame):
            continue  # what is missing goes to earth
        what = f"{top.between} carries {top.base:.3g} A, {_names(others)} together {together:.3g} A"
        clear = any(_frame(r) >= _CLEAR for r in frame)
        plain = f.ctx.unit.motor != "part_winding" and f.ctx.unit.inverter is not True
        more = "" if clear else ": unless the rest went to earth, and the insulation was not read"
        yield found(what + more, *lines, hard=clear and plain)


def voltages(f: Facts) -> Iterator[Found]:
    """Three line voltages of one moment; a dead line that floats reads anything, so that this is only told."""
    for lines in _lines(f, "supply_voltage", LINE_PAIRS):
        top, others = _apart(lines)
        together = sum(float(r.base or 0.0) for r in others)
        if float(top.base or 0.0) - together - f.margin(*lines) > _LOAD * float(top.base or 0.0):
            what = f"{top.between} reads {top.base:.3g} V, {_names(others)} together {together:.3g} V"
            yield found(f"{what}: a dead line that floats reads so, a live one does not", *lines, hard=False)


def _lines(f: Facts, quantity: str, places: tuple[str, ...]) -> Iterator[list[Reading]]:
    """The three readings of each moment that has just these."""
    groups: dict[object, list[Reading]] = {}
    for r in f.readings(quantity):
        groups.setdefault(f.ctx.moments[r.entry], []).append(r)
    for group in groups.values():
        if len(group) == 3 and {r.between for r in group} == set(places):
            yield group


def _apart(lines: list[Reading]) -> tuple[Reading, list[Reading]]:
    """The largest, and the other two."""
    top = max(lines, key=lambda r: float(r.base or 0.0))
    return top, [r for r in lines if r is not top]


def _names(two: list[Reading]) -> str:
    return " and ".join(str(r.between) for r in two)
