"""Where the words of a drawing stand: each line with the box it fills, by the metrics of the font."""

import re
from collections.abc import Iterator
from itertools import combinations
from typing import NamedTuple
from xml.etree import ElementTree

from stripdown.figures import plot
from stripdown.figures.figure import Figure

_RISE, _FALL = 0.76, 0.24
"""Capitals above and descenders below the foot of a line, of its size: metrics of DejaVu Sans."""
_ANCHORS = {"start": 0.0, "middle": 0.5, "end": 1.0}


class Word(NamedTuple):
    """A line of words and the box it fills [pt]."""

    said: str
    left: float
    top: float
    right: float
    bottom: float


def placed(element: ElementTree.Element, x: float = 0, y: float = 0, scale: float = 1) -> Iterator[Word]:
    """Every line of words of a drawing, moved, scaled and turned as it is drawn."""
    upright = True
    for name, given in re.findall(r"(translate|scale|rotate)\(([^)]*)\)", element.get("transform", "")):
        numbers = [float(n) for n in re.split(r"[ ,]+", given.strip())]
        if name == "scale":
            scale *= numbers[0]
        elif name == "translate":
            x, y = x + scale * numbers[0], y + scale * numbers[1]
        elif numbers[0]:
            assert numbers[0] == -90, f"words turned by {numbers[0]} degrees cannot be measured"
            upright = False
    if element.tag.rpartition("}")[2] == "text":
        yield _word(element, x, y, scale, upright=upright)
    for child in element:
        yield from placed(child, x, y, scale)


def _word(element: ElementTree.Element, x: float, y: float, scale: float, *, upright: bool) -> Word:
    size, said = float(_look(element, "font-size", "0")), "".join(element.itertext())
    across = plot.width(said, size)
    before = _ANCHORS[_look(element, "text-anchor", "start")] * across
    left, foot = float(element.get("x", 0)), float(element.get("y", 0))
    if upright:
        ends = (left - before, foot - _RISE * size, left - before + across, foot + _FALL * size)
    else:  # from the foot up
        ends = (left - _RISE * size, foot + before - across, left + _FALL * size, foot + before)
    return Word(said, *(at + scale * end for at, end in zip((x, y, x, y), ends, strict=True)))


def _look(element: ElementTree.Element, name: str, otherwise: str) -> str:
    """An attribute, or the same in the style."""
    found = re.search(rf"(?:^|[; ]){name}: *([\w.-]+)", element.get("style", ""))
    return (found[1] if found else element.get(name, otherwise)).removesuffix("px")


def cut_off(figure: Figure) -> list[str]:
    """Words that stick out of the drawing by half a point."""
    wide, high = figure.size
    found = placed(ElementTree.fromstring(figure.svg))
    return [w.said for w in found if min(w.left, w.top, wide - w.right, high - w.bottom) < -0.5]


def faults(figure: Figure) -> list[tuple[str, ...]]:
    """Words that are cut off, and pairs that lie on each other by more than a hair."""
    out: list[tuple[str, ...]] = [(said,) for said in cut_off(figure)]
    for a, b in combinations(placed(ElementTree.fromstring(figure.svg)), 2):
        if min(a.right, b.right) - max(a.left, b.left) > 0.5 and min(a.bottom, b.bottom) - max(a.top, b.top) > 1.5:
            out.append((a.said, b.said))
    return out
