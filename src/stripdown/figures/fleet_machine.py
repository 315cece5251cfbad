"""The machine from the side with what a fleet's returns were found to have damaged: a disc a part, by how many."""

from collections.abc import Mapping
from math import sqrt
from typing import Any

from stripdown import numbers
from stripdown.figures.figure import BAD, Figure, wrap
from stripdown.figures.machine import PLACES, outline
from stripdown.figures.plot import width
from stripdown.vocabulary import label

_WIDTH, _HEIGHT = 640.0, 336.0
_LEAST, _MOST, _RIM = 6.0, 19.0, 1.5
"""Radius of the disc of one return and of the part damaged most often, and the room around the number in it; the area
goes with the number of returns, but no disc is smaller than its number."""
_SMALL, _LARGE, _BOLD = 8.5, 11.0, 1.13
"""Sizes of a number, and how much wider bold digits are."""


def parts(report: Mapping[str, Any]) -> Figure | None:
    """Discs where the parts lie, their area by the number of returns in which they were damaged, the number inside."""
    rows = [r for r in report["parts"] if r["id"] in PLACES and r["count"] > 0]
    if not rows:
        return None
    most = max(r["count"] for r in rows)
    discs = [_disc(r["id"], r["count"], most) for r in sorted(rows, key=lambda r: -r["count"])]
    elsewhere = [f"{label(r['id'])} {r['count']}" for r in report["parts"] if r["id"] not in PLACES]
    told = "; ".join(f"{label(r['id'])} {r['count']}" for r in rows[:12])
    alt = f"Side view of the machine, number of returns with each part damaged, of {report['returns']}: {told}."
    if elsewhere:
        alt += f" Not on the drawing: {'; '.join(elsewhere)}."
    return wrap(outline() + "".join(discs), _WIDTH, _HEIGHT, title="Where the damage was found", alt=alt)


def _disc(part: str, count: int, most: int) -> str:
    x, y = PLACES[part]
    told = numbers.count(count)
    small, large = (_BOLD * width(told, size) / 2 + _RIM for size in (_SMALL, _LARGE))
    radius = max(_LEAST, small, _MOST * sqrt(count / most))
    size = _LARGE if large <= radius else _SMALL
    return (
        f"<g><title>{label(part)}: {told}</title>"
        f'<circle cx="{x:g}" cy="{y:g}" r="{radius:.1f}" fill="{BAD}" fill-opacity=".82" stroke="#ffffff"/>'
        f'<text x="{x:g}" y="{y + 0.36 * size:g}" font-size="{size:g}" font-weight="bold" fill="#ffffff" '
        f'text-anchor="middle">{told}</text></g>'
    )
