"""The machine from the side with what a fleet's returns were found to have damaged: a disc a part, by how many."""

from collections.abc import Mapping
from math import sqrt
from typing import Any

from stripdown.figures.figure import BAD, Figure, wrap
from stripdown.figures.machine import PLACES, outline
from stripdown.vocabulary import label

_WIDTH, _HEIGHT = 640.0, 336.0
_LEAST, _MOST = 6.0, 19.0
"""Radius of the disc of one return and of the part damaged most often; the area goes with the number."""


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
    radius = max(_LEAST, _MOST * sqrt(count / most))
    size = 8.5 if radius < 9 else 11
    return (
        f"<g><title>{label(part)}: {count}</title>"
        f'<circle cx="{x:g}" cy="{y:g}" r="{radius:.1f}" fill="{BAD}" fill-opacity=".82" stroke="#ffffff"/>'
        f'<text x="{x:g}" y="{y + 0.36 * size:g}" font-size="{size:g}" font-weight="bold" fill="#ffffff" '
        f'text-anchor="middle">{count}</text></g>'
    )
