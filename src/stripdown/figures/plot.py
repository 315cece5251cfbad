"""Elements of a plot: places in points from the upper left corner, text as wide as DejaVu Sans sets it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from itertools import accumulate
from math import ceil, floor, log10

from stripdown import resources

PAD, GAP = 3.0, 3.5
"""Between the edge of a drawing and what is in it; between a frame and its words [pt]."""
INK = "currentColor"
_LINE, _RISE = 1.16, 0.36
"""From line to line, and from the middle of a line down to where its letters stand [of the size]."""
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
_MORE = 0.68
"""What one more line of words adds to a row [of its height]."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the data go: edges [pt]."""

    left: float
    top: float
    right: float
    bottom: float

    def rows(self, sizes: Sequence[float]) -> tuple[list[float], float]:
        """The middles of rows from the top down, and the height of one of size 1 [pt]."""
        each = (self.bottom - self.top) / (sum(sizes) + 0.2)
        feet = accumulate(sizes, initial=0.1)
        return [self.top + (foot + size / 2) * each for foot, size in zip(feet, sizes, strict=False)], each

    def across(self, low: float, high: float) -> Callable[[float], float]:
        """Value → place from left to right."""
        return lambda value: self.left + (self.right - self.left) * (value - low) / (high - low)

    def up(self, low: float, high: float) -> Callable[[float], float]:
        """Value → place from the bottom up."""
        return lambda value: self.bottom - (self.bottom - self.top) * (value - low) / (high - low)


def sizes(words: Sequence[str]) -> list[float]:
    """How high each row must be for its words: 1 where they have one line."""
    return [1 + _MORE * said.count("\n") for said in words]


def width(words: str, size: float) -> float:
    """Width of the widest line [pt] at a size [pt]."""
    advances = _advances()
    return max(sum(advances.get(ord(letter), 0.6) for letter in line) for line in words.split("\n")) * size


@cache
def _advances() -> dict[int, float]:
    """Width of each letter [of the size]."""
    from fontTools.ttLib import TTFont

    with TTFont(resources.fonts() / "DejaVuSans.ttf", lazy=True) as font:
        metrics, em = font["hmtx"].metrics, font["head"].unitsPerEm
        return {letter: metrics[glyph][0] / em for letter, glyph in font.getBestCmap().items()}


def steps(low: float, high: float, most: int) -> tuple[list[float], list[str]]:
    """Round numbers from `low` to `high`, at most so many steps, and how they are written."""
    least = (high - low) / most
    scale = 10.0 ** floor(log10(least))
    step = next(s * scale for s in _STEPS if s * scale >= least * (1 - 1e-9))
    places = max(0, -floor(log10(step) + 1e-9) + (step / scale == 2.5))
    numbers = [n * step for n in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)]
    return numbers, [f"{number:.{places}f}".replace("-", "−") for number in numbers]


def text(x: float, y: float, words: str, size: float = 9.0, anchor: str = "start") -> str:
    """Lines of words, the middle of them all at the height `y`."""
    lines = words.split("\n")
    first = y + size * (_RISE - _LINE * (len(lines) - 1) / 2)
    at = f'font-size="{size:g}" text-anchor="{anchor}"'
    return "".join(
        f'<text x="{_pt(x)}" y="{_pt(first + i * _LINE * size)}" {at}>{escape(line)}</text>'
        for i, line in enumerate(lines)
    )


def labels(x: float, heights: Sequence[float], words: Sequence[str], size: float = 9.0, anchor: str = "start") -> str:
    """A column of words, one at each height."""
    return "".join(text(x, y, said, size, anchor) for y, said in zip(heights, words, strict=True))


def line(x1: float, y1: float, x2: float, y2: float, colour: str = INK, stroke: float = 0.8, dash: str = "") -> str:
    """A straight line; `dash`: lengths of strokes and gaps [pt]."""
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    path = f"M{_pt(x1)} {_pt(y1)}L{_pt(x2)} {_pt(y2)}"
    return f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{stroke:g}"{broken}/>'


def box(x1: float, x2: float, y: float, height: float, fill: str, more: str = "") -> str:
    """A bar from `x1` to `x2`, its middle at the height `y`."""
    at = f'x="{_pt(min(x1, x2))}" y="{_pt(y - height / 2)}" width="{_pt(abs(x2 - x1))}" height="{_pt(height)}"'
    return f'<rect {at} fill="{fill}"{more}/>'


_SHAPES = {
    "s": "M-3 -3H3V3H-3z",
    "D": "M0 -4.24L4.24 0L0 4.24L-4.24 0z",
    "<": "M3.5 -3.5V3.5L-3.5 0z",
    ">": "M-3.5 -3.5V3.5L3.5 0z",
    "-": "M-3.5 -.7H3.5V.7H-3.5z",
}


def mark(shape: str, x: float, y: float, colour: str, *, full: bool = True) -> str:
    """A marker: o disc, s square, D diamond, - dash, < and > arrowheads; hollow where it is not full."""
    inside = colour if full else "none"
    look = f'fill="{inside}" stroke="{colour}"'
    if shape == "o":
        return f'<circle cx="{_pt(x)}" cy="{_pt(y)}" r="3" {look}/>'
    return f'<path transform="translate({_pt(x)} {_pt(y)})" d="{_SHAPES[shape]}" {look}/>'


def _pt(value: float) -> str:
    """Hundredths of a point, more than a page shows and less than processors differ in."""
    return f"{round(value, 2) + 0.0:g}" if abs(value) < 1000 else f"{value:.2f}"
