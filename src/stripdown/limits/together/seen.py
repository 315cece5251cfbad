"""What was seen on a part against what was read of it at the same place.

What is worn has play, what is in pieces does not measure like new, and what is loose holds no torque. The reading must
be of the machine as it came back, and surely within its limit.
"""

from collections.abc import Iterator, Sequence

from stripdown.limits.derived import HEAVY
from stripdown.limits.together.model import COVERAGE, SENSORS, Facts, Found, found
from stripdown.record.model import Observation, Reading

_BEARINGS = ("main_bearing", "centre_bearing", "pump_end_bearing")
RODS = ("rod_bearings.worn_uniform", "rod_bearings.worn_random", "rod_bearings.worn_progressive")
_JOURNALS = ("crankshaft.scored_uniform", "crankshaft.scored_random", "crankshaft.scored_progressive")
_PLATED = ("crankshaft.copper_plated", "main_bearing.copper_plated")
_SMEARED = ("crankshaft.rod_metal_smeared", "connecting_rod.seized")
"""Metal in a rod's bearing, which takes up its play."""
_IN_PIECES = {"connecting_rod.broken": ("rod_play", "wrist_pin_drop"), "piston.broken": ("wrist_pin_drop",)}
_HEATER = (10.0, 3000.0)
"""Resistance [ohm] of crankcase heaters, some watts to some kilowatts (estimate)."""
_COLD_SENSOR = 250.0
"""Largest resistance [ohm] of one cold motor sensor: DIN 44081 (from memory)."""
_BOLTS = {
    "head_bolts.loose": ("head bolts", "head_bolt_torque"),
    "backer_bolts.backed_out": ("backer bolts", "backer_bolt_torque"),
}
_PATTERNS = 2
"""Patterns of wear of which a rod must be found free to be called sound."""
_SIDES = {"top", "bottom", "left", "right"}
_STUDS = {"star": 3, "delta": 6, "part_winding": 6, "single_phase": 3, None: 6}


def worn(f: Facts) -> Iterator[Found]:
    """Bearings and pins said to be worn heavily that have no more play than their limit allows.

    Copper that has plated out takes up the clearance, and so does metal that has smeared or seized.
    """
    if f.there(*_PLATED):
        return
    for part in _BEARINGS:
        said, read = f.there(f"{part}.worn", heavy=True), f.on_bench(f"{part}_play")
        if said and read and not f.there(f"{part}.seized"):
            yield from _tight(f, f"{_words(part)} is said to be worn heavily", said, read)
    if not f.there(*_SMEARED):
        plays = f.on_bench("rod_play")
        for o in f.there(*RODS, heavy=True):
            yield from _tight(f, "the rods are said to be worn heavily", [o], _of_pattern(f, o, plays))
    if not f.there("wrist_pin.seized"):
        drops = f.on_bench("wrist_pin_drop")
        for o in f.there("wrist_pin.drops", "wrist_pin.worn", heavy=True):
            yield from _at_one(f, "the wrist pin is said to be worn or to drop heavily", o, drops)


def broken(f: Facts) -> Iterator[Found]:
    """A rod or piston in pieces whose own play or drop is within its limit."""
    seized = bool(f.there(*_SMEARED))
    for finding, quantities in _IN_PIECES.items():
        for o in f.there(finding, heavy=True):
            for quantity in quantities:
                if quantity != "rod_play" or not seized:
                    yield from _at_one(f, f"{_words(o.part)} is in pieces", o, f.on_bench(quantity))


def _of_pattern(f: Facts, o: Observation, plays: Sequence[Reading]) -> list[Reading]:
    """The plays that a wear of the rods cannot leave tight: of an even one all; of one that grows towards the motor
    end the last rod's; of one at random those of its cylinders that are, or all where it names none."""
    if o.condition == "worn_progressive":
        return [r for r in plays if r.cylinder is not None and r.cylinder == f.ctx.unit.cylinders]
    if o.condition == "worn_uniform":
        return [r for r in plays if not o.cylinders or r.cylinder in o.cylinders]
    return _its_own(f, o, plays)


def _its_own(f: Facts, o: Observation, read: Sequence[Reading]) -> list[Reading]:
    """The readings within their limit at the cylinders that an entry names; where it names none all readings, if
    every cylinder was read."""
    if o.cylinders:
        return [r for r in read if r.cylinder in o.cylinders and _sure(f, r) is not None]
    return list(read) if _everywhere(f, read) else []


def _at_one(f: Facts, what: str, o: Observation, read: Sequence[Reading]) -> Iterator[Found]:
    yield from _tight(f, what, [o], _its_own(f, o, read))


def _everywhere(f: Facts, read: Sequence[Reading]) -> bool:
    """Whether every cylinder of the machine was read."""
    cylinders = f.ctx.unit.cylinders
    if cylinders is None or not read:
        return False
    return cylinders == 1 or set(range(1, cylinders + 1)) <= {r.cylinder for r in read}


def _tight(f: Facts, what: str, said: Sequence[Observation], read: Sequence[Reading]) -> Iterator[Found]:
    """The entries clash where all of these plays or drops are within their limit."""
    sure = [_sure(f, r) for r in read]
    if read and None not in sure:
        what_of = "drop" if read[0].quantity == "wrist_pin_drop" else "play"
        most = max(float(r.base or 0.0) for r in read)
        told = f"the {what_of} read is" if len(read) == 1 else f"the {what_of}s read are at most"
        yield found(f"{what}, and {told} {most:.3f} mm", *said, *read, hard=all(sure))


def _sure(f: Facts, r: Reading) -> bool | None:
    """Whether a play or drop is that of no worn part: None = it may be; False = within the limit of the class only,
    which fits no small machine, and not below what heavy wear adds to any clearance."""
    judged, limit = f.verdict(r, r.quantity), f.ctx.limit(r.quantity)
    if judged is None or limit is None or r.base is None or judged.verdict != "within":
        return None
    if r.quantity == "wrist_pin_drop":  # what was felt, the big end included, may be why it is called heavy
        high = limit.limits[1]
        return None if high is not None and r.base > high else True
    own = not limit.is_class or r.quantity in f.ctx.sheet.machine.journals
    return own or r.base + COVERAGE * (judged.judged_uncertainty or 0.0) <= HEAVY


def failed(f: Facts) -> Iterator[Found]:
    """A heater or sensors said to have failed that measure like whole ones."""
    said, read = f.there("crankcase_heater.open_circuit"), f.on_bench("heater_resistance")
    if said and read and all(_heats(f, r) for r in read):
        yield found(f"the heater is said to be open, and reads {read[0].base:.0f} ohm", *said, *read)
    said = f.there("motor_sensor.damaged", heavy=True)
    chain = [r for r in f.on_bench("sensor_resistance") if str(r.between).startswith("common")]
    if said and len({r.between for r in chain}) >= SENSORS and all(_whole_sensor(f, r) for r in chain):
        what = f"a motor sensor is said to be damaged, and all {len(chain)} read like sound ones"
        yield found(what, *said, *chain)


def _heats(f: Facts, r: Reading) -> bool:
    """Whether a heater is no open circuit: within its limit, or where it has none of a heater's resistance."""
    judged = f.verdict(r, "heater_resistance")
    if judged is not None:
        return r.base is not None and judged.verdict == "within"
    return r.base is not None and _HEATER[0] <= r.base <= _HEATER[1]


def _whole_sensor(f: Facts, r: Reading) -> bool:
    judged = f.verdict(r, "sensor_value")
    if judged is None or judged.verdict != "within" or r.base is None:
        return False
    return judged.limits()[1] is not None or r.base <= _COLD_SENSOR


def loose(f: Facts) -> Iterator[Found]:
    """Bolts or nuts said to be loose all over whose torque as found is within its limit at every cylinder, or on every
    stud: of some loose ones others may have been measured."""
    for finding, (name, quantity) in _BOLTS.items():
        read = f.on_bench(quantity)
        for o in f.there(finding, heavy=True):
            if _everywhere(f, read) and _all_over(f, o) and all(_held(f, r, r.quantity) for r in read):
                yield found(f"the {name} are said to be loose all over, and {len(read)} of them hold", o, *read)
    nuts, read = f.there("terminal_nuts.loose", heavy=True), f.on_bench("terminal_nut_torque")
    if nuts and len(read) >= _STUDS.get(f.ctx.unit.motor, 6) and all(_held(f, r, r.quantity) for r in read):
        yield found(f"the terminal nuts are said to be loose, and {len(read)} of them hold", *nuts, *read)


def _all_over(f: Facts, o: Observation) -> bool:
    return not o.cylinders or set(range(1, (f.ctx.unit.cylinders or 0) + 1)) <= set(o.cylinders)


def _held(f: Facts, r: Reading, rule: str) -> bool:
    judged = f.verdict(r, rule)
    return judged is not None and judged.verdict == "within"


def smeared(f: Facts) -> Iterator[Found]:
    """Metal of the rods on a journal whose rods, journals and plays are all sound."""
    if f.there("connecting_rod.seized", "connecting_rod.broken", *RODS, *_JOURNALS):
        return
    for o in f.there("crankshaft.rod_metal_smeared", heavy=True):
        rods, journals = _looked_at(f, o, RODS), _looked_at(f, o, _JOURNALS)
        plays = f.on_bench("rod_play")
        there = [r for r in plays if r.cylinder in o.cylinders] if o.cylinders else plays
        every = {r.cylinder for r in there} >= set(o.cylinders) if o.cylinders else _everywhere(f, there)
        if len(rods) >= _PATTERNS and journals and every and all(_sure(f, r) for r in there):
            what = "metal of the rods is said to be smeared heavily, and rods, journals and plays are sound"
            yield found(what, o, *rods, *journals, *there)


def _looked_at(f: Facts, o: Observation, findings: Sequence[str]) -> list[Observation]:
    """Of each of these findings an entry that says it is sound where `o` is."""
    entries = ([s for s in f.sound(x) if not s.cylinders or _within(o, s)] for x in findings)
    return [some[0] for some in entries if some]


def rubbed(f: Facts) -> Iterator[Found]:
    """A rub beside an even gap and a tight bearing, told where only what lies in the chamber or a burnt spot may have
    rubbed; without them the findings exclude one another."""
    said = f.there("rotor.rubbed", "stator.rubbed", heavy=True)
    beside = f.there("motor_chamber.metal_debris", "stator.burnt_spot")
    if not (said and beside) or f.there("rotor.loose", "crankshaft.broken", "main_bearing.worn", "main_bearing.seized"):
        return
    gaps, plays = f.on_bench("rotor_air_gap"), f.on_bench("main_bearing_play")
    even = {r.between for r in gaps} == _SIDES and all(_held(f, r, "air_gap") for r in gaps)
    if even and plays and all(_sure(f, r) is not None for r in plays):
        yield found("did what lies there rub, or was it measured elsewhere?", *said, *beside, *gaps, *plays, hard=False)


def _within(o: Observation, sound: Observation) -> bool:
    return bool(o.cylinders) and set(o.cylinders) <= set(sound.cylinders)


def _words(name: str) -> str:
    return f"the {name.replace('_', ' ')}"
