"""Levels of findings in a mechanic's words: what was seen, what a check looks for, what one change of a record says."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from stripdown.figures.words import finding_words, read_open
from stripdown.record.model import Observation
from stripdown.vocabulary import label, parts, presence_only

if TYPE_CHECKING:
    from stripdown.case import Case
    from stripdown.reasoning.model import Step

_LOW, _HIGH = ("within its limit", "below its limit"), ("within its limit", "above its limit")
_OUT = ("within its limits", "outside its limits")

READ: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "insulation_resistance.terminals": ("insulation resistance at the terminals", _LOW),
    "insulation_resistance.leads": ("insulation resistance at the leads", _LOW),
    "winding_resistance.terminals": ("winding resistance at the terminals", (*_OUT, "far outside its limits")),
    "winding_resistance.leads": ("winding resistance at the leads", (*_OUT, "far outside its limits")),
    "sensor_resistance.bad": ("sensor resistance", _OUT),
    "net_oil_pressure.low": ("net oil pressure", _LOW),
    "oil_drained.low": ("oil drained", (*_LOW, "far below its limit")),
    "oil_acid_number.high": (
        "acid number of the oil",
        ("within its limits", "above usual", "above its limit", "far above its limit"),
    ),
    "oil_moisture.high": ("moisture of the oil", ("not above 50 ppm", "above 50 ppm", "above 200 ppm")),
    "discharge_line_temperature.high": (
        "discharge line temperature",
        ("not above 107 degC", "above 107 degC", "above 121 degC", "above 135 degC"),
    ),
    "discharge_against_expected.low": ("discharge line against what was expected", ("not too cold", "too cold")),
    "discharge_against_expected.high": ("discharge line against what was expected", ("not too hot", "too hot")),
    "compression_ratio.high": ("compression ratio", _HIGH),
    "suction_superheat.low": ("superheat at the suction", ("not below 5 K", "below 5 K", "below 2 K")),
    "suction_superheat.high": ("superheat at the suction", ("not above 30 K", "above 30 K")),
    "evaporator_superheat.low": ("superheat at the evaporator", ("not below 2 K", "below 2 K")),
    "evaporator_superheat.high": ("superheat at the evaporator", ("not above 12 K", "above 12 K")),
    "return_gas.hot": ("return gas temperature", _HIGH),
    "subcooling.high": ("subcooling", ("not above 15 K", "above 15 K")),
    "subcooling.low": ("subcooling", ("not below 1 K", "below 1 K")),
    "sump_margin.low": ("sump above the saturated suction", _LOW),
    "supply_unbalance.high": ("unbalance of the supply", ("not above 2 %", "above 2 %", "above 4 %")),
    "supply_voltage.low": ("supply voltage", _LOW),
    "running_current.high": ("running current", ("not above the plate", "above the plate", "above its limit")),
    "current_unbalance.high": ("unbalance of the current", _HIGH),
    "air_gap.unequal": ("rotor air gap", ("even", "uneven")),
    "leak_back_rate.high": ("leak-back", _HIGH),
    "vacuum_pull_down.poor": ("pull-down", ("within its limit", "poor")),
}
"""Finding that is a reading → what is read, and its levels, the sound one first; figures as in `readings.toml`."""

_STATED: Mapping[str, tuple[str, tuple[str, str]]] = {
    "crank.will_not_turn": ("the crank, turned by hand", ("turns freely", "will not turn")),
    "pumping.does_not_pump": ("the machine, run or turned", ("pumps", "does not pump")),
    "cylinders.one_or_two_of_many": ("damage at one or two cylinders only", ("no", "yes")),
    "history.earlier_burn": ("an earlier burn at this place", ("no", "yes")),
    "assembly.part_missing_or_wrong": ("a part missing or wrong", ("not seen", "seen")),
}
_CHECKED = {"crank.will_not_turn": "whether it turns freely", "pumping.does_not_pump": "whether it pumps"}
_FAILED = {
    "running": "while running",
    "start": "at a start",
    "start_long": "at a start after eight hours or more off",
    "after_defrost": "after a defrost",
    "standing": "while standing",
}
_INDEX = {"none": 0, "present": 1, "slight": 1, "heavy": 2}
_PRESENT = {"none": "not seen", "present": "seen"}
_EXTENT = {"none": "sound", "slight": "slight", "heavy": "heavy"}


def _level(finding: str, state: str) -> str:
    """'suction_superheat.low', 'past limit 2 of 2' → 'below 2 K'; 'oil.low', 'none' → 'sound'."""
    _, words = READ.get(finding) or _STATED.get(finding) or ("", ())
    index = int(state.split()[2]) if state.startswith("past limit ") else _INDEX.get(state, 0)
    if index < len(words):
        return words[index]
    if finding.startswith("alarms."):
        return "some" if index else "none"
    return _EXTENT[state] if _graded(finding) and state in _EXTENT else _PRESENT.get(state, state)


def _graded(finding: str) -> bool:
    part, _, condition = finding.partition(".")
    return part in parts() and not presence_only(part, condition)


def looked_at(finding: str) -> str:
    """What one looks at for a finding: 'superheat at the suction', 'alarm memory, discharge heat', 'oil low'."""
    what, _ = READ.get(finding) or _STATED.get(finding) or (label(finding).replace("alarms ", "alarm memory, "), ())
    return what


def to_look_at(finding: str) -> str:
    """The same as what a check is to tell: 'whether it turns freely'."""
    return _CHECKED.get(finding) or looked_at(finding)


def change_words(change: str) -> str:
    """A flip as a person would say it: 'oil.low: none → heavy' → 'oil low: heavy instead of sound'."""
    finding, _, states = change.partition(": ")
    before, arrow, after = states.partition(" → ")
    if not arrow:
        return label(change)
    if finding == "failed when":
        return f"it failed {_FAILED[after]} instead of {_FAILED[before]}"
    return f"{looked_at(finding)}: {_level(finding, after)} instead of {_level(finding, before)}"


def check_words(finding: str, text: str) -> str:
    """A check with its finding in words: 'Ask the site: alarms oil' → 'Ask the site: alarm memory, oil'."""
    title, colon, what = text.rpartition(": ")
    of_finding = what.startswith(label(finding.partition(".")[0]))
    return f"{title}: {to_look_at(finding)}" if colon and of_finding else text or to_look_at(finding)


def seen_words(finding: str, observations: Iterable[Observation] = ()) -> str:
    """What the record states, as far as it goes: 'motor chamber soot, slight', 'net oil pressure below its limit'."""
    if finding in READ:
        what, words = READ[finding]
        graded = any(letter.isdigit() for letter in words[1])  # by figures in units that a drawing does not choose
        return f"{what} {finding.partition('.')[2] if graded else words[1]}"
    if finding.startswith("alarms."):
        return f"{label(finding.removeprefix('alarms.'))} alarm in the memory"
    if finding in _STATED:
        return finding_words(finding) if finding in _CHECKED else looked_at(finding)
    extents = {o.extent for o in observations if o.finding == finding} if _graded(finding) else set()
    worst = next((e for e in ("heavy", "slight") if e in extents), "")
    return ", ".join(x for x in (looked_at(finding), worst) if x)


def clashing(case: "Case", findings: Iterable[str]) -> list[str]:
    """Findings of a conflict in words."""
    opened = read_open((r.quantity, r.between, r.at, r.value) for r in case.readings)
    return [finding_words(x, opened) for x in findings]


def clash_words(case: "Case") -> str:
    """What does not go together, as a list in a sentence."""
    conflict = case.finding.conflict
    return ", ".join(clashing(case, conflict.findings)) if conflict else ""


def step_words(case: "Case", step: "Step") -> str:
    """A step of the chain in words that fit the record: what was seen as far as it was seen, a burnt winding with no
    more soot and acid than was found."""
    if step.seen:
        return seen_words(step.node, case.record.observations)
    return _burnt(case) if step.node == "winding_burnt" else step.text or label(step.node)


_BURNT = ("stator.burnt_all_phases", "stator.burnt_one_phase", "stator.burnt_two_phases", "stator.burnt_one_winding")


def _burnt(case: "Case") -> str:
    seen = {o.finding: o.extent for o in case.record.observations if o.extent in ("slight", "heavy")}
    acid_read = any(r.quantity == "oil_acid_number" and r.verdict == "outside" for r in case.readings)
    where = " at a spot" if "stator.burnt_spot" in seen and seen.keys().isdisjoint(_BURNT) else ""
    signs = ["soot"] if seen.get("motor_chamber.soot") == "heavy" else []
    signs += ["acid"] if "oil.acid_smell" in seen or acid_read else []
    return f"winding burnt{where}" + (f", {' and '.join(signs)} through the machine" if signs else "")
