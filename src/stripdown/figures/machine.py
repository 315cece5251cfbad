"""The machine from the side with what was found on it: pump end at the left, motor end at the right, the site below."""

from functools import cache
from html import escape
from pathlib import Path

from stripdown.case import Case
from stripdown.figures.figure import BAD, GOOD, PLAIN, WARN, Figure, wrap
from stripdown.figures.plot import width
from stripdown.figures.words import EXTENT_WORDS
from stripdown.record.model import Observation
from stripdown.vocabulary import label

PLACES: dict[str, tuple[float, float]] = {
    "cooling_fan": (72, 74), "unloader": (232, 48), "head_bolts": (156, 42), "head_gasket": (136, 84),
    "valve_plate": (322, 84), "relief_valve": (322, 58), "discharge_valve": (190, 66), "valve_backer": (212, 66),
    "backer_bolts": (250, 66), "suction_reed": (284, 100), "piston_rings": (183, 118), "piston": (183, 136),
    "cylinder_bore": (140, 118), "wrist_pin": (263, 118), "pumping": (263, 136), "connecting_rod": (199, 174),
    "rod_bearings": (163, 222), "crankshaft": (243, 222), "crank": (310, 212), "centre_bearing": (221, 196),
    "pump_end_bearing": (122, 196), "main_bearing": (351, 196), "oil_pump": (88, 212), "oil_gallery": (290, 236),
    "oil_pickup": (118, 262), "oil_screen": (148, 282), "oil": (196, 270), "crankcase_heater": (250, 284),
    "cover_gasket": (100, 176), "body": (316, 284), "oil_check_valve": (351, 274), "crankcase_vent": (351, 164),
    "motor_chamber": (372, 240), "rotor": (450, 212), "stator": (450, 158), "motor_leads": (420, 130),
    "motor_sensor": (490, 136), "terminal_box": (412, 100), "terminal_plate": (446, 100), "terminal_nuts": (480, 100),
    "suction_strainer": (546, 172), "service_valve_gasket": (578, 152),
}  # fmt: skip
"""Part of the machine → centre of its marker on the drawing."""

SITE: dict[str, tuple[str, ...]] = {
    "supply and switchgear": ("supply", "contactor", "protection", "start_timer", "short_cycling"),
    "low side": (
        "evaporator", "defrost", "expansion_valve", "accumulator", "suction_line", "liquid_solenoid", "pump_down",
        "low_pressure_control", "compressor_location",
    ),
    "high side and oil": (
        "condenser", "discharge_side", "discharge_check_valve", "charge", "liquid_injection", "oil_return", "duty",
    ),
    "cleanness": ("filter_drier", "evacuation", "cleanup"),
}  # fmt: skip
"""Box of the site strip → parts shown in it."""

_ORDER = ("none", "unreadable", "slight", "heavy")
_BROKEN = 'stroke-dasharray="2 2"'
_WIDTH, _TOP, _ROW = 640.0, 386.0, 14.0
_ROOM = 296.0
"""For a line of the list [pt]."""

_NAMES = (
    (88, 252, "pump", "middle"), (90, 186, "pump end", "end"), (220, 36, "heads and valve plate", "middle"),
    (447, 80, "terminal box", "middle"), (530, 296, "motor end", "end"), (286, 268, "sump", "middle"),
    (602, 138, "suction", "middle"), (104, 44, "discharge", "middle"), (330, 180, "crankcase", "end"),
    (450, 270, "stator", "middle"), (430, 232, "rotor", "middle"),
)  # fmt: skip


def machine(case: Case) -> Figure:
    """Schematic side view; a marker a part, its shape, fill and word saying how bad, numbered in the list beneath."""
    worst = _worst(case.record.observations)
    listed = [part for part in (*PLACES, *_site_parts()) if worst.get(part) in ("heavy", "slight", "unreadable")]
    listed.sort(key=lambda p: -_ORDER.index(worst[p]))
    number = {part: str(i) for i, part in enumerate(listed, 1)}
    body = [outline(), *(_name(*n) for n in _NAMES), *_site(worst, number)]
    body += [marker(*PLACES[p], worst[p], number.get(p, "")) for p in PLACES if p in worst]
    lines = [_line(case, part) for part in listed]
    sound = sum(extent == "none" for extent in worst.values())
    half = (len(lines) + 1) // 2
    for i, (part, text) in enumerate(zip(listed, lines, strict=True)):
        x, y = (14 if i < half else 330), _TOP + 10 + _ROW * (i % half)
        sign = marker(0, 0, worst[part], number[part])
        body.append(f'<g transform="translate({x:g} {y - 3:g}) scale(.7)">{sign}</g>')
        body.append(f'<text x="{x + 13:g}" y="{y:g}" font-size="9">{escape(text)}</text>')
    height = _TOP + 14 + _ROW * half
    body.append(marker(14, height - 3, "none", "") + _name(27, height, f"looked at and sound: {sound} parts", "start"))
    said = "; ".join(lines) or "nothing damaged"
    alt = f"Side view of the machine. {said}. Sound: {sound} parts."
    return wrap("".join(body), _WIDTH, height + 8, title="Where it was found", alt=alt)


@cache
def outline() -> str:
    """The iron and steel of the drawing, without findings."""
    return Path(__file__).with_suffix(".svg").read_text(encoding="utf-8")


def marker(x: float, y: float, extent: str, text: str) -> str:
    """Square = heavy, diamond = slight, ring = sound, grey disc with a broken edge = unreadable."""
    shape = {
        "heavy": f'<rect x="{x - 7.5:g}" y="{y - 7.5:g}" width="15" height="15" rx="2" fill="{BAD}"/>',
        "slight": f'<path d="M{x:g} {y - 9.5:g}l9.5 9.5l-9.5 9.5l-9.5 -9.5z" fill="{WARN}"/>',
        "none": f'<circle cx="{x:g}" cy="{y:g}" r="4.5" fill="none" stroke="{GOOD}" stroke-width="2"/>',
        "unreadable": f'<circle cx="{x:g}" cy="{y:g}" r="7.5" fill="{PLAIN}" stroke="currentColor" {_BROKEN}/>',
    }[extent]
    if not text:
        return shape
    at = f'x="{x:g}" y="{y + 3:g}"'
    return f'{shape}<text {at} font-size="8.5" font-weight="bold" fill="#ffffff" text-anchor="middle">{text}</text>'


def _worst(observations: tuple[Observation, ...]) -> dict[str, str]:
    worst: dict[str, str] = {}
    for o in observations:
        worst[o.part] = max(worst.get(o.part, "none"), _shown(o), key=_ORDER.index)
    return worst


def _shown(o: Observation) -> str:
    """A crank that turns and a machine that pumps are stated as true, and are sound."""
    return "none" if o.finding in ("crank.turns_freely", "pumping.pumps") else o.extent


def _line(case: Case, part: str) -> str:
    found = [o for o in case.record.observations if o.part == part and _shown(o) != "none"]
    found.sort(key=lambda o: -_ORDER.index(o.extent))
    said = [f"{label(o.condition)} ({EXTENT_WORDS[o.extent]})" for o in found]
    lines = [
        f"{label(part)}: {', '.join(said[:some])}" + (f", +{len(said) - some}" if some < len(said) else "")
        for some in range(len(said), 0, -1)
    ]
    return next((line for line in lines if width(line, 9) <= _ROOM), lines[-1])


def _site_parts() -> tuple[str, ...]:
    return tuple(part for parts in SITE.values() for part in parts)


def _site(worst: dict[str, str], number: dict[str, str]) -> list[str]:
    """The strip below the machine: one box for each side of the site."""
    out, each = [], (_WIDTH - 16) / len(SITE)
    out.append(_name(8, 326, "THE SITE, as reported or found there", "start"))
    for i, (name, parts) in enumerate(SITE.items()):
        x = 8 + i * each
        size = f'width="{each - 6:g}" height="46" rx="3"'
        out.append(f'<rect x="{x:g}" y="332" {size} fill="none" stroke="currentColor" stroke-width=".8"/>')
        out.append(_name(x + 6, 345, name, "start"))
        marks = [p for p in parts if p in worst]
        step = min(19.0, (each - 32) / max(1, len(marks) - 1))
        out += [marker(x + 14 + step * j, 362, worst[p], number.get(p, "")) for j, p in enumerate(marks)]
        if not marks:
            out.append(_name(x + 6, 366, "nothing recorded", "start"))
    return out


def _name(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text x="{x:g}" y="{y:g}" font-size="8.5" opacity=".8" text-anchor="{anchor}">{escape(text)}</text>'
