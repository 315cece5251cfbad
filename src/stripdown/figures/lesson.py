"""Figures for a class room: how the candidates moved at a station, and the chain of events on the machine."""

import math
from collections.abc import Mapping, Sequence
from html import escape
from itertools import pairwise

from stripdown.case import Case
from stripdown.figures.chain import kind
from stripdown.figures.figure import BAD, GOOD, PLAIN, WARN, Figure, wrap
from stripdown.figures.levels import step_words
from stripdown.figures.machine import PLACES, SITE, outline
from stripdown.figures.words import chance_words, folded
from stripdown.reasoning.model import Share, Step
from stripdown.vocabulary import label

_MOST, _FEWEST, _ALIVE = 6, 3, 0.01
_WIDTH, _ROW, _NAME, _BAR = 640.0, 27.0, 150.0, 300.0


def moved(before: Sequence[Share], after: Sequence[Share]) -> Figure:
    """The leading candidates: a bar for now, a hollow mark for where each stood before."""
    was = {s.id: s.probability or 0.0 for s in before}
    now = {s.id: s.probability or 0.0 for s in after}
    leading = sorted(now, key=lambda m: (-max(now[m], was[m]), m))[:_MOST]
    alive = [m for m in leading if max(now[m], was[m]) >= _ALIVE]
    shown = [m for m in now if m in (alive if len(alive) >= _FEWEST else leading[:_FEWEST])]
    body = "".join(_candidate(i, m, was[m], now[m]) for i, m in enumerate(shown))
    said = "; ".join(f"{label(m)} from {chance_words(was[m])} to {chance_words(now[m])}" for m in shown)
    height = _ROW * len(shown) + 22
    body += _text(_NAME, height - 4, 11.5, "filled: now    ┃ hollow: before this station", PLAIN)
    return wrap(body, _WIDTH, height, title="What is still possible", alt=f"Probabilities: {said}.")


def _candidate(i: int, mechanism: str, was: float, now: float) -> str:
    y = i * _ROW
    bar = f'<rect x="{_NAME:g}" y="{y + 5:g}" width="{max(_BAR * now, 0.8):.1f}" height="16" fill="{GOOD}"/>'
    mark = (
        f'<rect x="{_NAME + _BAR * was - 2.5:.1f}" y="{y + 1.5:g}" width="5" height="23" rx="1.5" '
        'fill="none" stroke="currentColor" stroke-width="1.6"/>'
    )
    arrow = "↑" if now > 1.1 * was else "↓" if now < was / 1.1 else "="
    words = f"{chance_words(was)} {arrow} {chance_words(now)}"
    return (
        _text(_NAME - 8, y + 18, 14, label(mechanism), anchor="end")
        + bar
        + mark
        + _text(_NAME + _BAR + 12, y + 18, 14, words)
    )


_NEAR: Mapping[str, str] = {
    "liquid_slug": "valve_backer", "flooded_start": "oil", "floodback": "oil_check_valve",
    "oil_starvation": "oil_pickup", "overheating": "valve_plate",
    "oil_feed_fault": "oil_pump", "acid_attack": "oil", "debris_wear": "oil_screen",
    "single_phasing": "terminal_box", "voltage_unbalance": "terminal_box", "half_winding": "terminal_box",
    "motor_overload": "stator", "surge": "terminal_box", "terminal_fault": "terminal_plate",
    "sensor_fault": "motor_sensor", "assembly_fault": "cover_gasket", "valve_fatigue": "suction_reed",
    "internal_leak": "head_gasket", "wear_out": "crankshaft", "part_defect": "rotor", "bearing_wear": "main_bearing",
    "rotor_drag": "rotor", "locked_rotor": "crank", "valve_damage": "discharge_valve",
    "running_gear_broken": "connecting_rod", "loose_fragments": "motor_chamber", "winding_earthed": "stator",
    "winding_shorted": "stator", "winding_open": "motor_leads", "leak_inside": "head_gasket", "acid_in_oil": "oil",
    "wear_random": "rod_bearings", "wear_progressive": "crankshaft", "wear_uniform": "rod_bearings",
    "heat_at_valves": "valve_plate", "winding_failed": "stator", "feed_lost": "oil_pump", "gallery_shut": "oil_gallery",
    "sensor_circuit": "motor_sensor", "oil_held_back": "motor_chamber", "winding_burnt": "stator",
}  # fmt: skip
"""Mechanism or damage state → the part of the drawing that stands for it."""

_READ_AT: Mapping[str, str] = {
    "insulation_resistance": "stator", "winding_resistance": "stator", "sensor_resistance": "motor_sensor",
    "air_gap": "rotor", "oil_acid_number": "oil", "oil_moisture": "oil", "oil_drained": "oil", "sump_margin": "oil",
    "net_oil_pressure": "oil_pump", "discharge_line_temperature": "discharge_valve", "leak_back_rate": "pumping",
    "vacuum_pull_down": "pumping", "suction_superheat": "suction_strainer", "return_gas": "suction_strainer",
    "compression_ratio": "valve_plate",
}  # fmt: skip
"""Measured quantity → the part of the drawing that stands for it."""

_COLOURS = {"cause": WARN, "mechanism": GOOD, "damage": PLAIN, "part": BAD, "reading": BAD}
_SITE_AT = (60.0, 366.0)
_TOP, _LINE, _FOLD, _LETTERS = 396.0, 22.0, 17.0, 72


def chain_on_machine(case: Case) -> Figure | None:
    """The chain of events numbered on the machine, cause in the strip of the site; None where there is no chain."""
    steps = case.finding.chain
    if not steps:
        return None
    points: list[tuple[float, float]] = []
    for step in steps:
        points.append(_beside(place(step.node), points))
    body = [f'<g opacity=".55">{outline()}</g>', *_site_names()]
    body += [_arrow(a, b) for a, b in pairwise(points) if a != b]
    body += [_disc(*p, str(i), step) for i, (p, step) in enumerate(zip(points, steps, strict=True), 1)]
    y = _TOP
    for i, step in enumerate(steps, 1):
        y += _LINE
        body.append(_disc(18, y - 5, str(i), step))
        told = "● seen: " if step.seen else f"○ inferred, {chance_words(step.probability)}: "
        lines = folded(told + step_words(case, step), _LETTERS).split("\n")
        body += [_text(36, y + _FOLD * j, 14, line) for j, line in enumerate(lines)]
        y += _FOLD * (len(lines) - 1)
    said = " → ".join(step_words(case, step) for step in steps)
    return wrap("".join(body), _WIDTH, y + 8, title="The chain on the machine", alt=f"On the drawing: {said}.")


def _beside(wanted: tuple[float, float], taken: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Where a number wanted there stands: as near to the right of it as leaves the others free to be read."""
    x, y = wanted
    while any(math.dist((x, y), other) < 20 for other in taken):
        x += 10.5
    return x, y


def place(node: str) -> tuple[float, float]:
    """Where a step of the chain stands on the drawing; causes and what is found on the site, in the strip below."""
    part = node.split(".")[0]
    part = _NEAR.get(part) or _READ_AT.get(part) or part
    if part in PLACES:
        return PLACES[part]
    box = next((i for i, parts in enumerate(SITE.values()) if part in parts), None)
    return _SITE_AT if box is None else (_SITE_AT[0] + box * (_WIDTH - 16) / len(SITE), _SITE_AT[1])


def _site_names() -> list[str]:
    return [
        f'<path d="M8 338H{_WIDTH - 8:g}" fill="none" stroke="currentColor" stroke-width=".8"/>',
        _text(
            _WIDTH - 8, 352, 11, "BESIDE THE MACHINE: the site, the works, the hands that worked on it", anchor="end"
        ),
    ]


def _disc(x: float, y: float, number: str, step: Step) -> str:
    """A number in a square = seen in the record, in a circle = inferred."""
    colour = _COLOURS[kind(step.node)]
    shape = (
        f'<rect x="{x - 9.5:g}" y="{y - 9.5:g}" width="19" height="19" rx="2" fill="{colour}"/>'
        if step.seen
        else f'<circle cx="{x:g}" cy="{y:g}" r="10.5" fill="{colour}"/>'
    )
    at = f'x="{x:g}" y="{y + 4.5:g}"'
    return f'{shape}<text {at} font-size="13" font-weight="bold" fill="#ffffff" text-anchor="middle">{number}</text>'


def _arrow(a: tuple[float, float], b: tuple[float, float]) -> str:
    """From one number to the next, short of both, with a head."""
    (x1, y1), (x2, y2) = a, b
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    if length < 30:
        return ""
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    tip = (x2 - 13 * ux, y2 - 13 * uy)
    wings = [(tip[0] - 9 * ux + s * 4.5 * uy, tip[1] - 9 * uy - s * 4.5 * ux) for s in (1, -1)]
    head = " ".join(f"{x:.1f},{y:.1f}" for x, y in (tip, *wings))
    return (
        f'<path d="M{x1 + 12 * ux:.1f} {y1 + 12 * uy:.1f}L{tip[0] - 6 * ux:.1f} {tip[1] - 6 * uy:.1f}" fill="none" '
        f'stroke="{BAD}" stroke-width="2.6"/><polygon points="{head}" fill="{BAD}"/>'
    )


def _text(x: float, y: float, size: float, text: str, colour: str = "currentColor", anchor: str = "start") -> str:
    at = f'x="{x:g}" y="{y:g}" font-size="{size:g}" fill="{colour}" text-anchor="{anchor}"'
    return f"<text {at}>{escape(text)}</text>"
