"""One sheet's tables → SheetFile; everything that is wrong with them as faults."""

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from stripdown.limits.model import Tier
from stripdown.limits.reader import Reader
from stripdown.limits.sense import contradictions
from stripdown.limits.sheet import RULES, Instrument, Limit, Machine, SheetFile
from stripdown.record import units
from stripdown.record.fault import Fault
from stripdown.record.model import Plate
from stripdown.record.schema import QUANTITIES
from stripdown.record.text import either, shown

_TIERS = ("notice", "limit", "danger")
_TOP = ("model", "class", "source", "issue", "machine", "limits", "instruments", "notes")
_LIMIT = (*_TIERS, "doubtful", "unit", "nominal", "tolerance", "between", "oil", "only", "source", "issue")
_WORDS: dict[str, tuple[str, ...]] = {
    "cooling": ("refrigerant", "air"),
    "motor": ("star", "delta", "part_winding", "single_phase"),
    "oil_feed": ("pump", "splash"),
    "bearing_metal": ("shells", "aluminium"),
}
_MACHINE = (*_WORDS, "cylinders", "stages", "oil", "oil_charge", "fresh_acid", "plate", "heater", "journals")
_JOURNALS = ("main_bearing_play", "centre_bearing_play", "pump_end_bearing_play", "rod_play")
_PARTS = ("relative", "absolute", "placing", "scatter")
_SHARES = ("relative", "scatter")
_INSTRUMENT = (*_PARTS, "unit", "source")
_MEASURED = {
    "winding_balance": "winding_resistance",
    "winding_value": "winding_resistance",
    "insulation_minimum": "insulation_resistance",
    "sensor_value": "sensor_resistance",
    "sensor_equality": "sensor_resistance",
    "supply_unbalance": "supply_voltage",
    "current_unbalance": "running_current",
    "contact_drop": "contact_voltage_drop",
    "air_gap": "rotor_air_gap",
}
"""Rule → the quantity it judges, where their names differ and it is measured between points."""
_DIFFERENCE = {"temperature": "temperature difference"}
"""Family of a quantity → family of its accuracy, where the two differ."""


def parse_sheet(raw: dict[str, Any], path: Path, faults: list[Fault]) -> SheetFile:
    """The sheet in `raw`; what is wrong with it is added to `faults` (the sheet is then not to be used)."""
    reader = Reader(path, faults)
    top = reader.table(raw, "", _TOP)
    is_class = top.get("class") is True
    model = reader.text(top["model"], "model") if "model" in top else None
    if is_class == ("model" in top):
        reader.fault("model", "a sheet is for one model or for the class", 'write either model = "…" or class = true')
    if "class" in top and not is_class:
        reader.fault("class", f"is {shown(top['class'])}", "write class = true, or take it out")
    head = {}
    for key in ("source", "issue"):
        if key not in top:
            reader.fault(
                key, "is missing", f'write {key} = "…" at the top: where the limits come from and which issue of it'
            )
        head[key] = (reader.text(top[key], key) if key in top else None) or ""
    name = "class limit" if is_class else f"limit sheet {model}, issue {head['issue']}"
    if is_class and "machine" in top:
        reader.fault("machine", "stands in the sheet of a class", "a machine is told of in the sheet of its model")
    limits: dict[str, tuple[Limit, ...]] = {}
    for rule, tables in reader.table(top.get("limits", {}), "limits", tuple(RULES)).items():
        if tables == []:
            reader.fault(f"limits.{rule}", "states no limit", "write a table, or take it out")
        found = [
            _limits(reader, rule, t, entry, name, head["source"], is_class)
            for t, entry in _each(tables, f"limits.{rule}")
        ]
        every = [limit for each in found for limit in each]
        limits[rule] = tuple(sorted(every, key=lambda limit: (not limit.between, limit.oil is None)))
    return SheetFile(
        model=model,
        source=head["source"],
        issue=head["issue"],
        machine=_machine(reader, top.get("machine", {})),
        limits=limits,
        instruments=_instruments(reader, top.get("instruments", {})),
        notes=_notes(reader, top.get("notes", {})),
        path=path,
    )


def _each(tables: Any, entry: str) -> Iterator[tuple[Any, str]]:
    """A table, or each of a list of them, with its place in the file (counted from 1)."""
    if isinstance(tables, list):
        yield from ((t, f"{entry}[{n}]") for n, t in enumerate(tables, 1))
    else:
        yield tables, entry


def _limits(reader: Reader, rule: str, raw: Any, entry: str, name: str, source: str, is_class: bool) -> list[Limit]:
    """The limits of one table: one, or one a place of measurement where `nominal` is a table of them."""
    table = reader.table(raw, entry, _LIMIT)
    scale = None
    if "unit" in table:
        scale = reader.scale(table["unit"], f"{entry}.unit", rule)
    else:
        reader.fault(f"{entry}.unit", "is missing", f'write the unit, as unit = "{RULES[rule][0]}"')
    scale = scale or units.Scale("", 1.0)  # a fault by now; the rest is looked at all the same
    own = reader.text(table["source"], f"{entry}.source") if "source" in table else source
    issue = reader.text(table["issue"], f"{entry}.issue") if "issue" in table else None
    said = f"{name}: {own}" + (f", issue {issue}" if issue else "")
    common: dict[str, Any] = {"rule": rule, "source": said, "is_class": is_class}
    for key in ("oil", "only"):
        if key in table:
            common[key] = reader.word(
                table[key], f"{entry}.{key}", ("POE", "mineral") if key == "oil" else ("halocarbon",)
            )
    doubtful = _pair(reader, table.get("doubtful"), f"{entry}.doubtful", rule, scale)
    tiers = tuple(
        Tier(tier, *_pair(reader, table[tier], f"{entry}.{tier}", rule, scale))  # type: ignore[arg-type]  # of _TIERS
        for tier in _TIERS
        if tier in table
    )
    if not tiers and "nominal" not in table:
        reader.fault(
            entry, "states no limit", "write notice, limit or danger with low, high or both, or nominal with tolerance"
        )
    nominals = _nominals(reader, table, entry, rule, scale)
    between = _between(reader, table, entry, rule)
    made = [
        Limit(tiers=(*tiers, around), doubtful=doubtful, nominal=centre, between=place or between, **common)
        for place, centre, around in nominals
    ] or [Limit(tiers=tiers, doubtful=doubtful, between=between, **common)]
    for what, fix in dict.fromkeys(wrong for limit in made for wrong in contradictions(limit)):
        reader.fault(entry, what, fix)
    return made


def _between(reader: Reader, table: Mapping[str, Any], entry: str, rule: str) -> tuple[str, ...]:
    places = table.get("between", [])
    if not isinstance(places, list) or not all(isinstance(p, str) for p in places):
        reader.fault(f"{entry}.between", f"is {shown(places)}", 'write a list, as ["U-V", "V-W"]')
        return ()
    return tuple(p for p in places if _is_place(reader, p, f"{entry}.between", rule))


def _is_place(reader: Reader, place: str, entry: str, rule: str) -> bool:
    """Whether readings under this rule are taken there."""
    known = QUANTITIES.get(_MEASURED.get(rule, rule))
    places, numbered = (known.between, known.numbered) if known else ((), ())
    if place in places or any(re.fullmatch(rf"{n}-[1-9]\d?", place) for n in numbered):
        return True
    wanted = either(places) if places else " or ".join(f"{n}-1, {n}-2 …" for n in numbered)
    fix = f"write {wanted}" if wanted else "take it out"
    reader.fault(entry, f"{shown(place)} is no place where this is measured", fix)
    return False


def _pair(reader: Reader, raw: Any, entry: str, rule: str, scale: units.Scale) -> tuple[float | None, float | None]:
    """Low and high in the unit of the rule; inches of mercury count downward, so the two change places."""
    if raw is None:
        return None, None
    table = reader.table(raw, entry, ("low", "high"))
    if isinstance(raw, dict) and not table:
        reader.fault(entry, "states neither low nor high", "write {low = …}, {high = …} or both")
    low, high = (reader.number(table[k], f"{entry}.{k}") if k in table else None for k in ("low", "high"))
    if low is not None and high is not None and low > high:
        reader.fault(entry, f"low {low:g} is above high {high:g}", "change the two round")
    low, high = (None if v is None else units.to_base(v, scale) for v in (low, high))
    if rule == "pull_down" and scale.reference == "down":
        low, high = (None if v is None else units.ATMOSPHERE - v for v in (high, low))
    return low, high


def _nominals(
    reader: Reader, table: Mapping[str, Any], entry: str, rule: str, scale: units.Scale
) -> list[tuple[tuple[str, ...], float, Tier]]:
    """(place, nominal, tier `limit` of plus and minus the tolerance) for each nominal value."""
    if "nominal" not in table:
        if "tolerance" in table:
            reader.fault(f"{entry}.tolerance", "stands without nominal", "write nominal = … beside it")
        return []
    tolerance = reader.number(table.get("tolerance"), f"{entry}.tolerance", positive=True)
    if tolerance is not None and tolerance >= 100:
        reader.fault(f"{entry}.tolerance", f"{tolerance:g} % leaves no low limit", "write per cent below 100")
    if "limit" in table:
        reader.fault(
            f"{entry}.limit", "stands beside nominal", "keep one of the two: nominal with tolerance is the limit"
        )
    raw = table["nominal"]
    each = raw.items() if isinstance(raw, dict) else [("", raw)]
    out: list[tuple[tuple[str, ...], float, Tier]] = []
    for place, value in each:
        number = reader.number(value, f"{entry}.nominal" + (f".{shown(place)[1:-1]}" if place else ""), positive=True)
        if number is None or tolerance is None or (place and not _is_place(reader, place, f"{entry}.nominal", rule)):
            continue
        centre = units.to_base(number, scale)
        around = Tier("limit", centre * (1 - tolerance / 100), centre * (1 + tolerance / 100))
        out.append(((place,) if place else (), centre, around))
    return out


def _machine(reader: Reader, raw: Any) -> Machine:
    table = reader.table(raw, "machine", _MACHINE)
    out: dict[str, Any] = {}
    for key, value in table.items():
        entry = f"machine.{key}"
        if key in _WORDS:
            out[key] = reader.word(value, entry, _WORDS[key])
        elif key in ("cylinders", "stages"):
            out[key] = reader.count(value, entry)
        elif key == "oil":
            out[key] = reader.text(value, entry)
        elif key == "fresh_acid":
            out[key] = reader.number(value, entry)
        elif key == "oil_charge":
            out[key] = _with_unit(reader, value, entry, "volume")
    plate = reader.table(table.get("plate", {}), "machine.plate", tuple(Plate.__dataclass_fields__))
    out["plate"] = Plate(**{k: reader.number(v, f"machine.plate.{k}", positive=True) for k, v in plate.items()})
    journals = reader.table(table.get("journals", {}), "machine.journals", _JOURNALS)
    sizes = {k: reader.number(v, f"machine.journals.{k}", positive=True) for k, v in journals.items()}
    out["journals"] = {k: v for k, v in sizes.items() if v is not None}
    if "heater" in table:
        heater = reader.table(table["heater"], "machine.heater", ("voltage", "power"))
        pair = [reader.number(heater.get(k), f"machine.heater.{k}", positive=True) for k in ("voltage", "power")]
        out["heater"] = None if None in pair else tuple(pair)
    return Machine(**{k: v for k, v in out.items() if v is not None})


def _with_unit(reader: Reader, raw: Any, entry: str, family: str) -> float | None:
    table = reader.table(raw, entry, ("value", "unit"))
    value = reader.number(table.get("value"), f"{entry}.value", positive=True)
    unit = table.get("unit")
    scale = units.lookup(unit, family) if isinstance(unit, str) else None
    if scale is None:
        reader.fault(
            f"{entry}.unit", f"is {shown(unit)}, not a unit of {family}", f"write {either(units.names(family))}"
        )
    return None if value is None or scale is None else units.to_base(value, scale)


def _instruments(reader: Reader, raw: Any) -> dict[str, Instrument]:
    out = {}
    for quantity, value in reader.table(raw, "instruments", tuple(QUANTITIES)).items():
        entry = f"instruments.{quantity}"
        table = reader.table(value, entry, _INSTRUMENT)
        unit, family = table.get("unit"), _DIFFERENCE.get(QUANTITIES[quantity].family, QUANTITIES[quantity].family)
        scale = units.lookup(unit, family) if isinstance(unit, str) else None
        if scale is None:
            reader.fault(
                f"{entry}.unit", f"is {shown(unit)}, not a unit of {family}", f"write {either(units.names(family))}"
            )
            continue
        part = {k: reader.part(table[k], f"{entry}.{k}", share=k in _SHARES) for k in _PARTS if k in table}
        said = [f"{100 * part['relative']:g} %"] if part.get("relative") else []
        said += [f"{part['absolute']:g} {unit}"] if part.get("absolute") else []
        out[quantity] = Instrument(
            relative=part.get("relative", 0.0),
            absolute=part.get("absolute", 0.0) * scale.factor,
            placing=part.get("placing", 0.0) * scale.factor,
            scatter=part.get("scatter", 0.0),
            text=" + ".join(said),
        )
    return out


def _notes(reader: Reader, raw: Any) -> dict[str, str]:
    notes = {k: reader.text(v, f"notes.{shown(k)[1:-1]}") for k, v in reader.table(raw, "notes", None).items()}
    return {k: v for k, v in notes.items() if v is not None}
