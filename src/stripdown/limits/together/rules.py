"""The laws that entries of one record keep together, and what breaks them."""

from collections.abc import Sequence

from stripdown.limits.context import Context
from stripdown.limits.model import Judged
from stripdown.limits.together import electrical, running, seen, stated, wear
from stripdown.limits.together.model import Clash, Facts, Rule

_INSTRUMENTS = "3 standard uncertainties"
_PRESSURES = frozenset({"discharge_pressure"})
_ROD_READINGS = frozenset({"rod_play", "wrist_pin_drop"})
_ROD_WEAR = frozenset(name.partition(".")[2] for name in seen.RODS)
_OIL = frozenset({"net_oil_pressure", "oil_pump_pressure"})

RULES = (
    Rule(
        id="three_pairs",
        needs=(frozenset({"winding_resistance"}),),
        find=electrical.windings,
        why="No pair of a winding reads more than the other two pairs together",
        fix="read all three again with firm contact, and look at the labels: a contact that comes and goes reads so",
        tolerance=f"{_INSTRUMENTS}, 0.05 ohm of contact, 5 % of drift",
        source="derived: three terminals joined by resistances read like a star; series for a single phase",
    ),
    Rule(
        id="joined_insulation",
        needs=(frozenset({"insulation_resistance"}),),
        find=electrical.insulation,
        why="What copper joins has one insulation to the frame, and all together is no better than the worst",
        fix="test again at the same place, one after the other, and look whether a lead has parted",
        tolerance="contact up to 0.1 Mohm against 5 Mohm or more; a notice up to 1 Mohm",
        source="derived: resistances in parallel",
    ),
    Rule(
        id="line_currents",
        needs=(frozenset({"running_current"}),),
        find=electrical.currents,
        why="Without a return no line carries more than the other two together",
        fix="measure the three lines again at one moment, with one clamp that is fully shut",
        tolerance=f"{_INSTRUMENTS}, 20 % of a moving load",
        source="derived: Kirchhoff's law of currents",
    ),
    Rule(
        id="line_voltages",
        needs=(frozenset({"supply_voltage"}),),
        find=electrical.voltages,
        why="Of three live lines no voltage is more than the other two together",
        fix="have the three voltages measured again under load by a licensed electrician",
        tolerance=f"{_INSTRUMENTS}, 20 % of a moving supply",
        source="derived: Kirchhoff's law of voltages",
    ),
    Rule(
        id="round_gap",
        needs=(frozenset({"rotor_air_gap"}),),
        find=wear.gaps,
        why="In a round bore a round rotor has the same room upright as across",
        fix="measure the four gaps again, each at the same place along the rotor",
        tolerance=f"{_INSTRUMENTS}, 0.1 mm out of round, the play of the motor-end bearing",
        source="derived: bore less rotor, on either diameter",
    ),
    Rule(
        id="play_in_gap",
        needs=(frozenset({"rotor_air_gap"}), frozenset({"main_bearing_play"}), frozenset({"rubbed"})),
        find=wear.play,
        why="A shaft with more play than its rotor has room has let it rub",
        fix="measure play and gaps again, and look at rotor and stator for marks",
        tolerance=f"{_INSTRUMENTS}, 0.05 mm of setting",
        source="derived: an overhung rotor moves at least as far as its bearing lets it",
    ),
    Rule(
        id="suction_below_discharge",
        needs=(frozenset({"suction_pressure"}), _PRESSURES),
        find=running.suction_above_discharge,
        why="A running machine does not draw in at a higher pressure than it delivers",
        fix="look whether the two gauges or lines are exchanged, and which units they have",
        tolerance=f"{_INSTRUMENTS}, 20 kPa",
        source="common practice, no source",
    ),
    Rule(
        id="vacuum_in_air",
        needs=(frozenset({"vacuum_pull_down"}),),
        find=running.vacuum,
        why="No vacuum is deeper than the air it counts from",
        fix="look at the value, at its unit, and where it was measured",
        tolerance=_INSTRUMENTS,
        source="derived; air pressure by altitude: ISO 2533",
    ),
    Rule(
        id="oil_above_crankcase",
        needs=(_OIL,),
        find=running.oil_pressure,
        why="An oil pump does not lower the pressure of the crankcase it draws from",
        fix="look whether the two gauges or ports are exchanged",
        tolerance=f"{_INSTRUMENTS}, 10 kPa",
        source="common practice, no source",
    ),
    Rule(
        id="condensing_above_air",
        needs=(_PRESSURES, frozenset({"ambient_temperature"})),
        find=running.condensing,
        why="An air-cooled condenser gives its heat to air that is colder",
        fix="look at pressure, unit and refrigerant, and where the air was measured",
        tolerance=f"{_INSTRUMENTS}, 5 K; impossible from 15 K on where the condenser is hindered in two ways",
        source="common practice, no source",
    ),
    Rule(
        id="discharge_gas",
        needs=(_PRESSURES, frozenset({"suction_pressure"}), frozenset({"discharge_line_temperature"})),
        find=running.discharge_gas,
        why="Compressed gas is neither colder than its boiling point at that pressure nor than it came in",
        fix="look at the probe, which may not touch, at the pressures and at the refrigerant",
        tolerance=f"{_INSTRUMENTS}, 5 K; impossible from 10 K on where the gas was drawn in dry",
        source="derived; 5 and 10 K: estimates",
    ),
    Rule(
        id="suction_gas",
        needs=(
            frozenset({"suction_pressure"}),
            frozenset({"suction_gas_temperature", "evaporator_outlet_temperature"}),
        ),
        find=running.suction_gas,
        why="Refrigerant on its way to a running machine is no colder than its boiling point",
        fix="look at the pressure, at its unit, at the probe and at the refrigerant",
        tolerance=f"{_INSTRUMENTS}, 5 K; impossible from 10 K on where the machine ran",
        source="derived; 5 and 10 K: estimates",
    ),
    Rule(
        id="too_hot",
        needs=(
            _PRESSURES,
            frozenset({"suction_pressure"}),
            frozenset({"discharge_line_temperature"}),
            frozenset({"suction_gas_temperature", "superheat"}),
        ),
        find=running.too_hot,
        why="Compression makes gas no hotter than its losses and the motor's heat explain",
        fix="look whether pressures, suction and discharge temperature are of one moment, and read them again together",
        tolerance=(
            f"{_INSTRUMENTS}, 5 K; isentropic efficiency 0.45, motor 40 K or air-cooled 10 K; a notice where a leak "
            "inside was not looked for"
        ),
        source="derived: definition of isentropic efficiency; the figures are estimates",
    ),
    Rule(
        id="missing_part",
        needs=(frozenset({"missing"}),),
        find=stated.missing,
        why="What is not there is neither measured nor looked at",
        fix="look at the machine again: is the part there?",
        tolerance="a notice without a reading, or two other looks that found something; no site readings",
        source="common practice, no source",
    ),
    Rule(
        id="torn_sensors",
        needs=(frozenset({"sensor_resistance"}), frozenset({"missing", "lead_broken"})),
        find=stated.sensors,
        why="A sensor that reads is there and connected",
        fix="read the sensors again at their terminals, and look at their leads",
        tolerance="three sensors or more, all of which read; torn leads are a notice",
        source="common practice, no source",
    ),
    Rule(
        id="no_oil_pump",
        needs=(frozenset({"splash"}), _OIL | {"gouged", "worn", "drive_broken", "wrong_part"}),
        find=stated.splash,
        why="A splash-lubricated machine has no oil pump",
        fix="look at the plate of the machine: how is its oil fed, and is the sheet of this machine?",
        tolerance="one such entry is a notice",
        source="common practice, no source",
    ),
    Rule(
        id="one_phase",
        needs=(
            frozenset({"single_phase"}),
            frozenset({"burnt_one_phase", "burnt_two_phases", "running_current"}),
        ),
        find=stated.single_phase,
        why="A single-phase motor has a start and a run winding, and no three phases",
        fix="look at the plate of the machine: which motor has it, and is the sheet of this machine?",
        tolerance="none for two burnt phases, the rest is a notice",
        source="common practice, no source",
    ),
    Rule(
        id="ran_after_failure",
        needs=(frozenset({"time"}), _OIL | {"running_current"}),
        find=stated.ran_after,
        why="A machine that has failed for good does not run",
        fix="look at the dates, and of which machine the readings are",
        tolerance="two days; a notice where neither burnt nor jammed, or not said how it failed",
        source="common practice, no source",
    ),
    Rule(
        id="site_dates",
        needs=(frozenset({"time"}),),
        find=stated.dates,
        why="A machine is read on the site while it stands there",
        fix="look at the dates, at `site`, and of which machine the readings are",
        tolerance="the day",
        source="common practice, no source",
    ),
    Rule(
        id="worn_and_tight",
        needs=(
            frozenset({"worn", "drops", *_ROD_WEAR}),
            frozenset({"main_bearing_play", "centre_bearing_play", "pump_end_bearing_play"} | _ROD_READINGS),
        ),
        find=seen.worn,
        why="What is worn heavily has play",
        fix="measure the play again, dry of oil, and look at the part: place and cylinder may be mixed up",
        tolerance="verdict within; by class limits a notice from 75 um on, which heavy wear adds; no plated copper",
        source="common practice, no source",
    ),
    Rule(
        id="broken_and_tight",
        needs=(frozenset({"broken"}), _ROD_READINGS),
        find=seen.broken,
        why="What is in pieces is not found with the play of a new part",
        fix="look at the cylinder again: its number, what is broken, and where the play was measured",
        tolerance="verdict within, at the cylinder of the damage",
        source="common practice, no source",
    ),
    Rule(
        id="failed_and_whole",
        needs=(frozenset({"open_circuit", "damaged"}), frozenset({"heater_resistance", "sensor_resistance"})),
        find=seen.failed,
        why="A part that has failed does not read like a whole one",
        fix="measure it again by itself, disconnected, and look whether it is the part that was found",
        tolerance="verdict within; three sensors or more, all of which read; a broken lead is none",
        source="common practice, no source",
    ),
    Rule(
        id="loose_and_tight",
        needs=(
            frozenset({"loose", "backed_out"}),
            frozenset({"head_bolt_torque", "backer_bolt_torque", "terminal_nut_torque"}),
        ),
        find=seen.loose,
        why="What is loose does not hold its torque",
        fix="look whether the torque was read as found or after it was tightened, and on which bolts",
        tolerance="verdict within, on every stud or at every cylinder",
        source="common practice, no source",
    ),
    Rule(
        id="smeared_and_sound",
        needs=(frozenset({"rod_metal_smeared"}), frozenset({"rod_play"})),
        find=seen.smeared,
        why="Rod metal on a journal has come off a rod",
        fix="look at the rods and journals again, and of which cylinder the entries are",
        tolerance="rods and journals looked at and sound, every play of theirs within",
        source="common practice, no source",
    ),
    Rule(
        id="rubbed_and_even",
        needs=(frozenset({"rubbed"}), frozenset({"rotor_air_gap"}), frozenset({"main_bearing_play"})),
        find=seen.rubbed,
        why="A rotor in the middle of its bore, on a bearing that is tight, has nothing to rub on",
        fix="look at the marks (all round, or one score), and measure gaps and play again",
        tolerance="always a notice: with nothing in the chamber and no burnt spot the findings exclude one another",
        source="common practice, no source",
    ),
    Rule(
        id="too_young",
        needs=(frozenset({"new"}), frozenset({"copper_plated", "sludge", "corroded", "worn", "worn_uniform"})),
        find=stated.too_young,
        why="A new machine has not the wear and deposits of years",
        fix="look at the run hours (a counter that was reset, another unit) and at the serial number of the machine",
        tolerance="below 200 h and half a year; two such findings, or what made them fast, is a notice",
        source="common practice, no source; the figures are estimates",
    ),
)


def clashes(ctx: Context, judged: Sequence[Judged]) -> tuple[Clash, ...]:
    """What cannot all be true of one machine, the impossible before what may have been measured oddly; `judged`: its
    readings against their limits."""
    record, unit = ctx.record, ctx.unit
    held = {r.quantity for r in record.readings}
    held.update([o.condition for o in record.observations])
    held.update([x for x in (unit.motor, unit.oil_feed) if x])
    if any(r.time is not None for r in record.readings):
        held.add("time")
    if unit.run_hours is not None and unit.run_hours < stated.NEW_HOURS:
        held.add("new")
    facts = Facts(ctx, judged)
    out: list[Clash] = []
    for rule in RULES:
        for need in rule.needs:
            if held.isdisjoint(need):
                break
        else:
            out += [rule.clash(f) for f in rule.find(facts)]
    return tuple(sorted(out, key=lambda c: c.rate is None))
