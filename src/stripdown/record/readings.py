"""One reading: its unit turned into the base unit, and what may be said of its quantity."""

import re
from typing import Any

from stripdown.record import schema, units
from stripdown.record.model import Accuracy, Reading
from stripdown.record.notes import Notes
from stripdown.record.schema import QUANTITIES, Quantity
from stripdown.record.text import either, figure, near, shown
from stripdown.record.units import Scale

_DASH = re.compile(r"\s*[-‐-―−]\s*")
_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"
_SHARE = re.compile(rf"{_NUMBER}\s*%(?:\s+of\s+{_NUMBER})?", re.ASCII)
_PLAIN = re.compile(_NUMBER, re.ASCII)
_ACCURACY_FIX = 'write "0.5%" of the reading, "0.02" in its unit, "0.5% + 0.02", or "1% of 40" of a span'
_DEEP_VACUUM = ("micron", "Pa", "mbar")
_ABSOLUTE_WITHOUT_SAYING = frozenset({"Pa", "mbar"})


def build(got: dict[str, Any], entry: str, motor: str | None, notes: Notes) -> Reading | None:
    """A `Reading` from checked fields; None, and every fault, where the fields do not go together."""
    before = len(notes.faults)
    quantity = QUANTITIES.get(got.get("quantity", ""))
    scale = _scale(got, quantity, entry, notes)
    accuracy = _accuracy(got, scale, entry, notes)
    temperature = _temperature(got, entry, notes)
    if quantity is None:
        return None
    between = _between(got, quantity, motor, entry, notes)
    _extras(got, quantity, entry, notes)
    value = got.get("value")
    if isinstance(value, str) and not quantity.meter:
        notes.fault(f"{entry}.value", f'"{value}" is for resistances only', "write the number that was read")
    absolute, base = _base(got, quantity, scale, entry, notes)
    if len(notes.faults) > before or value is None or scale is None:
        return None
    return Reading(
        entry=entry,
        quantity=got["quantity"],
        value=value,
        unit=got["unit"],
        base=base,
        base_unit=units.BASE[quantity.family],
        between=between,
        at=got.get("at"),
        cylinder=got.get("cylinder"),
        temperature=temperature,
        accuracy=accuracy,
        test_voltage=got.get("test_voltage"),
        absolute=absolute,
        site=got.get("site", False),
        time=got.get("time"),
        gas=got.get("gas"),
    )


def _scale(got: dict[str, Any], quantity: Quantity | None, entry: str, notes: Notes) -> Scale | None:
    unit = got.get("unit")
    if unit is None:
        return None
    if quantity is None:
        if not units.families(unit):
            notes.fault(f"{entry}.unit", f"{shown(unit)} is no unit known here", "write the unit of the quantity")
        return None
    scale = units.lookup(unit, quantity.family)
    if scale is not None:
        return scale
    wanted = _DEEP_VACUUM if quantity.reference == "absolute" else units.names(quantity.family)
    if others := units.families(unit):
        what = f"{shown(unit)} is a unit of {others[0]}, {got['quantity']} wants {quantity.family}"
        notes.fault(f"{entry}.unit", what, f"write {either(wanted)}")
        return None
    meant = units.either_case(unit, quantity.family)
    if meant:  # milli or mega: only the writer knows
        fix = f"did you mean {either(meant)}? Capitals count here"
    else:
        guess = near(unit, wanted)
        fix = f"did you mean {guess}?" if guess else f"write {either(wanted)}"
    notes.fault(f"{entry}.unit", f"{shown(unit)} is no unit of {quantity.family} known here", fix)
    return None


def _base(
    got: dict[str, Any], quantity: Quantity, scale: Scale | None, entry: str, notes: Notes
) -> tuple[bool, float | None]:
    """Whether the pressure counts from zero, and the value in the base unit where it is a number within bounds."""
    absolute = bool(got.get("absolute", False))
    if scale is None:
        return absolute, None
    value = got.get("value")
    if quantity.reference is not None:
        absolute = _absolute(got, quantity, scale, entry, notes)
    if not isinstance(value, float):
        return absolute, None
    base = units.to_base(value, scale)
    if quantity.reference == "vacuum" and not absolute:
        base = _pulled_down(value, base, scale, entry, notes)
    elif quantity.reference == "either" and scale.reference == "down" and value > 0 and not absolute:
        notes.notice(f"{entry}.value", "inHg is read as above the atmosphere here", "a vacuum is written with a minus")
    low = 0.0 if absolute else quantity.low
    if not low <= base <= quantity.high:
        unit = units.BASE[quantity.family]
        what = f"{value:g} {got['unit']} cannot be a reading of {got['quantity']}"
        notes.fault(
            f"{entry}.value",
            what,
            f"it must come to between {figure(low)} and {figure(quantity.high)} {unit}: look at value and unit",
        )
    return absolute, base


def _absolute(got: dict[str, Any], quantity: Quantity, scale: Scale, entry: str, notes: Notes) -> bool:
    """Whether `value` counts from zero pressure, by unit, quantity and `absolute`; a fault where they disagree."""
    said: bool | None = got.get("absolute")
    if quantity.reference == "difference":
        if said or scale.reference == "absolute":
            fix = "take `absolute` out and write psi, bar or kPa"
            notes.fault(f"{entry}.unit", f"{got['quantity']} is a difference: it is neither gauge nor absolute", fix)
        return False
    if said and scale.reference == "gauge":
        name = scale.name.removesuffix("g")
        notes.fault(
            f"{entry}.absolute",
            f"{shown(got['unit'])} is a gauge unit",
            f"write {name} for absolute, or take `absolute` out",
        )
    if said is False and scale.reference == "absolute":
        notes.fault(
            f"{entry}.absolute",
            f"{shown(got['unit'])} is an absolute unit",
            "take `absolute` out or write a gauge unit",
        )
    if quantity.reference == "absolute":
        if scale.reference in ("gauge", "down") and not (scale.reference == "down" and said):
            what = f"{shown(got['unit'])} is a gauge unit, {got['quantity']} is absolute"
            notes.fault(f"{entry}.unit", what, f"write {either(_DEEP_VACUUM)}")
        elif said is False:
            notes.fault(f"{entry}.absolute", f"{got['quantity']} is always absolute", "take `absolute` out")
        return True
    implied = scale.reference == "absolute" or (
        quantity.reference == "vacuum" and scale.name in _ABSOLUTE_WITHOUT_SAYING
    )
    return implied if said is None else said


def _pulled_down(value: float, base: float, scale: Scale, entry: str, notes: Notes) -> float:
    """Absolute pressure [kPa] from a gauge: inches of mercury count down from the atmosphere, others carry a minus.

    The standard atmosphere is taken; what the altitude changes, the limits know.
    """
    if scale.reference == "down":
        if value < 0:
            notes.fault(f"{entry}.value", "inHg counts downward here", f"write {-value:g} without the minus")
            return 0.0
        return units.ATMOSPHERE - base
    if base > 0:
        what = f"{value:g} {scale.name} above the atmosphere is no vacuum"
        notes.fault(f"{entry}.value", what, "write absolute = true, or a minus for below the atmosphere, or inHg")
        return 0.0
    return units.ATMOSPHERE + base


def _between(got: dict[str, Any], quantity: Quantity, motor: str | None, entry: str, notes: Notes) -> str | None:
    given = got.get("between")
    place = f"{entry}.between"
    options = quantity.between
    if quantity.at and motor is not None:
        options = tuple(b for b in options if b in schema.BY_MOTOR[motor])
    wanted = either(options) if options else " or ".join(f"{n}-1, {n}-2 …" for n in quantity.numbered)
    if given is None:
        if wanted and not notes.blames(place):
            notes.fault(place, "is missing", f"write what it was measured between: {wanted}")
        return None
    if not wanted:
        notes.fault(place, f"{got['quantity']} is not measured between two points", "take it out")
        return None
    key = ends(given)
    for option in options:
        if ends(option) == key:
            return option
    begins, _, number = "-".join(_DASH.split(given.casefold())).partition("-")
    if begins in quantity.numbered and re.fullmatch("[1-9][0-9]?", number):
        return f"{begins}-{number}"
    what = f"{shown(given)} is no place to measure {got['quantity']}"
    if any(ends(option) == key for option in quantity.between):
        what += f" on a {str(motor).replace('_', '-')} motor"
    notes.fault(place, what, f"write {wanted}")
    return None


def ends(between: str) -> frozenset[str]:
    """The two ends of a `between`, whatever their order and case."""
    return frozenset(_DASH.split(between.casefold()))


def _extras(got: dict[str, Any], quantity: Quantity, entry: str, notes: Notes) -> None:
    """Fields that only some quantities take."""
    allowed = {
        "at": (quantity.at, "winding and insulation"),
        "test_voltage": (quantity.insulation, "insulation"),
        "gas": (quantity.insulation, "insulation"),
        "cylinder": (quantity.cylinder, "wrist_pin_drop, rod_play and torques"),
        "absolute": (quantity.reference is not None, "pressures"),
    }
    for name, (taken, takers) in allowed.items():
        if name in got and not taken:
            notes.fault(f"{entry}.{name}", f"{got['quantity']} takes no {name}", f"take it out; it is for {takers}")


def _temperature(got: dict[str, Any], entry: str, notes: Notes) -> float | None:
    """Temperature of the part measured [degC]."""
    spelling = got.get("temperature_unit")
    scale = units.lookup(spelling or "degC", "temperature")
    if scale is None:
        notes.fault(f"{entry}.temperature_unit", f"{shown(spelling)} is no unit of temperature", "write degC or degF")
        return None
    if "temperature" not in got:
        if spelling:
            notes.fault(
                f"{entry}.temperature", "is missing beside temperature_unit", "write the number, or take the unit out"
            )
        return None
    celsius = units.to_base(got["temperature"], scale)
    if not -90 <= celsius <= 400:
        fix = "the part measured has from -90 to 400 degC: look at the number and its unit"
        notes.fault(f"{entry}.temperature", f"{got['temperature']:g} {scale.name} cannot be", fix)
        return None
    return celsius


def _accuracy(got: dict[str, Any], scale: Scale | None, entry: str, notes: Notes) -> Accuracy | None:
    text = got.get("accuracy")
    if text is None:
        return None
    percent = absolute = 0.0
    for term in text.lstrip("±").split("+"):
        term = term.strip()
        if match := _SHARE.fullmatch(term):
            if match[2] is None:
                percent += float(match[1])
            else:
                absolute += float(match[1]) * float(match[2]) / 100
        elif _PLAIN.fullmatch(term):
            absolute += float(term)
        else:
            notes.fault(f"{entry}.accuracy", f"{shown(text)} cannot be read", _ACCURACY_FIX)
            return None
    if percent > 100 or absolute > 1e15 or percent == absolute == 0:
        notes.fault(f"{entry}.accuracy", f"{shown(text)} is no accuracy of an instrument", _ACCURACY_FIX)
        return None
    factor = scale.factor if scale else 1.0
    return Accuracy(relative=_nine(percent) / 100, absolute=_nine(absolute) * factor)


def _nine(number: float) -> float:
    """Nine significant digits: more than an instrument states, few enough to be written and read back unchanged."""
    return float(f"{number:.9g}")
