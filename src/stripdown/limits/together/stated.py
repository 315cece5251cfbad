"""Readings and findings against what the record states elsewhere: parts that are not there, its head, its dates."""

from collections.abc import Iterator
from datetime import date, timedelta

from stripdown.bench.lubrication import TRIP
from stripdown.limits.together.model import SENSORS, Facts, Found, found
from stripdown.limits.together.running import net_pressure, oil_ends
from stripdown.record.model import Reading

ALONE = (
    *("oil_pump", "oil_pickup", "oil_screen", "oil_check_valve", "crankcase_heater", "relief_valve", "cooling_fan"),
    *("suction_strainer", "rotor", "stator", "crankshaft", "main_bearing", "centre_bearing", "pump_end_bearing"),
)
"""Parts of which a machine has one, so that it is there or missing."""
_MEASURED = {
    "heater_resistance": "crankcase_heater",
    "rotor_air_gap": "rotor",
    "winding_resistance": "stator",
    "main_bearing_play": "main_bearing",
    "centre_bearing_play": "centre_bearing",
    "pump_end_bearing_play": "pump_end_bearing",
    "crankshaft_end_float": "crankshaft",
}
"""Quantity → the part without which there is nothing to measure."""
_OF_THE_SITE = frozenset(
    {"supply_voltage", "contact_voltage_drop", "ambient_temperature", "evaporator_outlet_temperature"}
    | {"evacuation_vacuum", "starts_per_hour", "superheat", "subcooling"}
)
"""What can be read on the site without this machine."""
_CONNECTED = 20.0
"""Resistance [ohm] of a sensor that is neither short nor absent: IEC 60947-8, type A (from memory)."""
_LATER = timedelta(days=2)
"""A reading so long after the failure is no slip of a night's date (estimate)."""
NEW_HOURS = 200.0
"""Run hours below which a machine is new (estimate)."""
_NEW, _OLD = timedelta(days=183), timedelta(days=730)
"""Time since it was installed below which it is new, and since it was built from which it may have run elsewhere
(estimates)."""
_SLOW = (
    *(("crankshaft.copper_plated", "main_bearing.copper_plated"), ("oil.sludge",), ("body.corroded",)),
    *(("cylinder_bore.worn",), ("piston_rings.worn",), ("piston.worn",), ("oil_pump.worn",)),
    ("rod_bearings.worn_uniform", "crankshaft.scored_uniform"),
)
"""What takes years; of each group the findings are one."""
_TOO_MANY = 3
"""So many of them are no chance in a new machine; one fewer is told."""
_CYLINDER = {"cylinder_bore", "piston_rings", "piston"}
_FAST = (
    *("crankshaft.heat_tinted", "cylinder_bore.washed_bright", "valve_plate.discoloured_fixed", "valve_plate.coked"),
    *("oil.low", "oil.milky", "oil.wrong_type", "suction_strainer.metal_debris", "oil_pickup.blocked"),
    *("oil_screen.blocked", "oil_gallery.blocked", "oil_pickup.misfitted", "oil_pump.drive_broken"),
    *("cover_gasket.reversed", "cleanup.not_done_after_burnout", "stator.burnt_all_phases", "evacuation.not_done"),
)
"""Heat, dirt, water or no oil: what does in days the work of years."""
_LOADED = (0.25, 1.5)
"""Share of the plate's current that a motor draws which runs, and is not held (estimate)."""


def missing(f: Facts) -> Iterator[Found]:
    """A part that is not there against what was measured on it on the bench, or found on it; a sheet on which all its
    other lines are ticked as sound is only told of."""
    for part in ALONE:
        gone = f.there(f"{part}.missing")
        if not gone or (part == "oil_pump" and f.ctx.unit.oil_feed == "splash"):
            continue
        measured = list(_measured(f, part))
        if measured:
            yield found(f"{part} is missing, and was measured", *gone, *measured)
            continue
        seen = f.of_part(part, "missing")
        if seen:
            hard = len(seen) > 1 and any(o.extent != "none" for o in seen)
            yield found(f"{part} is missing, and was looked at", *gone, *seen, hard=hard)


def _measured(f: Facts, part: str) -> Iterator[Reading]:
    """Readings on the bench that a machine without this part does not give."""
    if part == "oil_pump":
        for r in f.readings("net_oil_pressure", "oil_pump_pressure"):
            net = None if r.site else net_pressure(f, r)
            if net is not None and net > f.margin(*oil_ends(f, r)) + TRIP[0]:
                yield r
    for r in f.readings(*(q for q, of in _MEASURED.items() if of == part)):
        if r.base is not None and not r.site:
            yield r


def sensors(f: Facts) -> Iterator[Found]:
    """Motor sensors that are not there, or torn off, against as many readings of connected ones as a motor has."""
    read = [r for r in f.readings("sensor_resistance") if str(r.between).startswith("common") and not r.site]
    connected = [r for r in read if r.base is not None and r.base >= _CONNECTED]
    if len({r.between for r in read}) < SENSORS or len(connected) < len(read):
        return
    gone, torn = f.there("motor_sensor.missing"), f.there("motor_sensor.lead_broken")
    if gone or torn:
        more = "" if gone else ": a broken lead that still touches, or one broken after the reading"
        yield found(f"{len(read)} motor sensors read as connected ones{more}", *gone, *torn, *read, hard=bool(gone))


def splash(f: Facts) -> Iterator[Found]:
    """A machine without an oil pump against what was found or measured on one."""
    seen = [o for o in f.of_part("oil_pump", "missing") if o.extent != "none"]
    read = f.readings("net_oil_pressure", "oil_pump_pressure")
    if seen or read:
        how = " and ".join(["found damaged"] * bool(seen) + ["measured"] * bool(read))
        head = {_field(f, "oil_feed"): "splash lubrication"}
        hard = len(seen) + len(read) > 1
        yield found(f"one was {how}", *seen, *read, hard=hard, beside=head)


def single_phase(f: Facts) -> Iterator[Found]:
    """A motor of one phase against burns and currents of three."""
    head = {_field(f, "motor"): "single-phase motor"}
    two = f.there("stator.burnt_two_phases")
    one = f.there("stator.burnt_one_phase")
    lines = [r for r in f.readings("running_current") if (r.base or 0.0) > f.margin(r)]
    if two:
        yield found("two phases are said to have burnt", *two, beside=head)
    if one:
        what = "one phase is said to have burnt; of a winding write burnt_one_winding"
        yield found(what, *one, hard=False, beside=head)
    if len({r.between for r in lines}) == 3:
        yield found("three lines carry current", *lines, hard=False, beside=head)


def _field(f: Facts, name: str) -> str:
    """Where the record has a fact of its machine: its own field, or the model whose sheet states it."""
    return f"unit.{name}" if getattr(f.ctx.record.unit, name) is not None else "unit.model"


def dates(f: Facts) -> Iterator[Found]:
    """Readings on the site from before the machine stood there or after it had come back."""
    installed, returned = f.ctx.record.history.installed, f.ctx.record.history.returned
    own = [r for r in f.ctx.record.readings if r.site and r.quantity not in _OF_THE_SITE]
    dated = [(r, r.time.date()) for r in own if r.time is not None]
    late = [r for r, day in dated if returned is not None and day > returned]
    early = [r for r, day in dated if installed is not None and day < installed]
    if late:
        head = {"history.returned": f"returned {returned}"}
        yield found(f"read on the site after it was returned on {returned}", *late, hard=False, beside=head)
    if early:
        head = {"history.installed": f"installed {installed}"}
        yield found(f"read on the site before it was installed on {installed}", *early, hard=False, beside=head)


def ran_after(f: Facts) -> Iterator[Found]:
    """Readings of a running machine days after the failure; impossible where it is said how it failed, and burnt or
    jammed it runs no more."""
    failed, returned = f.ctx.record.history.failed, f.ctx.record.history.returned
    if failed is None:
        return
    last = returned or date.max
    ran = [
        r for r in f.ctx.record.readings if r.site and r.time is not None and failed + _LATER < r.time.date() <= last
    ]
    ran = [r for r in ran if _shows_a_run(f, r)]
    if not ran:
        return
    stopped = [
        *f.there("crank.will_not_turn"),
        *f.there("stator.burnt_all_phases", "stator.burnt_two_phases", heavy=True),
    ]
    more = "" if stopped else ": did it fail later, or is it another machine?"
    head = {"history.failed": f"failed {failed}"}
    hard = bool(stopped) and f.ctx.record.history.failed_when is not None
    yield found(f"it failed on {failed} and ran days later{more}", *ran, *stopped, hard=hard, beside=head)


def _shows_a_run(f: Facts, r: Reading) -> bool:
    """Whether a reading is one of a running machine: oil pressure, or a current that is no locked rotor's."""
    if r.quantity in ("net_oil_pressure", "oil_pump_pressure"):
        net = net_pressure(f, r)
        return net is not None and net >= TRIP[1]
    plate = f.ctx.unit.plate.current
    if r.quantity != "running_current" or plate is None or r.base is None:
        return False
    return _LOADED[0] * plate <= r.base <= _LOADED[1] * plate


def too_young(f: Facts) -> Iterator[Found]:
    """Wear and deposits of years in a machine of some days; only told where something on record made them fast, or
    where it may have run before its hours were counted."""
    unit, history = f.ctx.record.unit, f.ctx.record.history
    installed, failed, built = history.installed, history.failed, unit.built
    if unit.run_hours is None or unit.run_hours >= NEW_HOURS:
        return
    dated = installed is not None and failed is not None
    if installed is not None and failed is not None and failed - installed >= _NEW:
        return
    groups = [seen for some in _SLOW if (seen := f.there(*some, heavy=True))]
    if len(groups) < _TOO_MANY - 1:
        return
    old = built is not None and failed is not None and failed - built >= _OLD
    before = old or history.opened_before in ("site", "workshop")
    fast = bool(f.there(*_FAST, heavy=True)) or history.earlier_burn is True
    kinds = {"cylinder" if seen[0].part in _CYLINDER else seen[0].finding for seen in groups}
    hard = len(groups) >= _TOO_MANY and len(kinds) > 1 and not (before or fast)
    head = {"unit.run_hours": f"{unit.run_hours:g} run hours"}
    if dated:
        head |= {"history.installed": f"installed {installed}", "history.failed": f"failed {failed}"}
    what = f"{unit.run_hours:g} h on the counter, and {len(groups)} findings that take years"
    more = "" if hard else ": did it run before, or what made them so fast?"
    yield found(what + more, *(o for seen in groups for o in seen), hard=hard, beside=head)
