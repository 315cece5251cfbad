"""A drawn figure: its SVG, what it is called and what it says in words."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, wraps
from html import escape
from typing import TYPE_CHECKING, TypeVar

from stripdown.record.text import seen

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Canvas

T = TypeVar("T")
F = TypeVar("F")

FONT = "'DejaVu Sans', system-ui, sans-serif"
GOOD, WARN, BAD, PLAIN, BAND = "#2a78b5", "#8a6d00", "#c4501b", "#7a8590", "#9db8a5"
"""Fill colours that differ in hue and in grey; words and markers always say the same."""

FLEET_WIDTH = 5.4
"""Width of the figures of a fleet [inch]: a phone shows them whole with letters that can still be read."""

INK = "#010203"
"""Drawn in the text colour of the page around it."""
_SETTINGS: dict[str, object] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "stripdown",
    "axes.unicode_minus": True,
    "font.family": ["DejaVu Sans"],
    "font.size": 9.0,
    "text.parse_math": False,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "hatch.linewidth": 0.7,
    **dict.fromkeys(("text.color", "axes.edgecolor", "axes.labelcolor", "xtick.color", "ytick.color"), INK),
    "hatch.color": INK,
}


@dataclass(frozen=True, slots=True)
class Figure:
    """`svg` stands alone or inside a page: its ink is the text colour around it; `alt` says what it shows."""

    svg: str
    alt: str
    title: str

    def _repr_html_(self) -> str:
        return self.svg

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the drawing [pt]."""
        box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', self.svg)
        if box is None:  # every figure of this room is written with one
            raise ValueError(f"figure {self.title!r} has no viewBox")
        return float(box[1]), float(box[2])


def once(function: Callable[[T], F]) -> Callable[[T], F]:
    """Draw a Case once for notebook, page and print."""
    return wraps(function)(lru_cache(maxsize=8)(function))


def drawn(function: Callable[[T], F]) -> Callable[[T], F]:
    """Draw with this room's settings whatever the caller's are, and draw what can be kept once for page and print."""
    inner = lru_cache(maxsize=8)(function)

    @wraps(function)
    def call(subject: T) -> F:
        import matplotlib as mpl

        with mpl.rc_context(_SETTINGS):  # type: ignore[arg-type]
            return function(subject) if isinstance(subject, dict) else inner(subject)

    return call


def canvas(width: float, height: float, rows: int = 1, columns: int = 1) -> "tuple[Canvas, list[Axes]]":
    """An empty drawing of width × height [inch] and its axes in reading order."""
    from matplotlib.figure import Figure as Drawing

    drawing = Drawing(figsize=(width, height), layout="constrained")
    grid = drawing.subplots(rows, columns, squeeze=False)
    return drawing, list(grid.flat)


def column(ax: "Axes", places: list[int], words: list[str]) -> None:
    """A column of words at the right of the bars, on the heights of `places`."""
    right = ax.twinx()
    right.set_ylim(ax.get_ylim())
    right.set_yticks(places, words)
    right.tick_params(length=0)
    right.spines[:].set_visible(False)


def finish(drawing: "Canvas", *, title: str, alt: str) -> Figure:
    """The drawing as a figure; equal drawings give equal bytes."""
    from io import StringIO

    out = StringIO()
    drawing.patch.set_visible(False)
    for axes in drawing.axes:
        axes.patch.set_visible(False)
    drawing.savefig(out, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    return Figure(seen(_embed(out.getvalue(), title, alt)), seen(alt), seen(title))


def wrap(body: str, width: float, height: float, *, title: str, alt: str) -> Figure:
    """A figure from SVG elements of our own; width and height [pt]."""
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}pt" height="{height:g}pt" role="img" aria-label="{escape(alt)}" '
        f'font-family="{FONT}" fill="currentColor" stroke-linejoin="round">{body}</svg>'
    )
    return Figure(seen(_own_ids(svg, title)), seen(alt), seen(title))


def _embed(svg: str, title: str, alt: str) -> str:
    """Only the `<svg>` element, with ink that follows the page, no global style and no id that could meet another's."""
    svg = svg[svg.index("<svg") :].strip()
    svg = re.sub(r"<metadata>.*?</metadata>\s*", "", svg, flags=re.S)
    svg = re.sub(r"<defs>\s*<style.*?</style>\s*</defs>\s*", "", svg, flags=re.S)
    svg = svg.replace(INK, "currentColor")
    svg = re.sub(r"<!--.*?-->\s*", "", svg, flags=re.S)
    svg = re.sub(r"(font(?:-family)?: [^;\"]*?)'DejaVu Sans'(?:, [^;\"]*)?(?=[;\"])", rf"\1{FONT}", svg)
    label = f'<svg role="img" aria-label="{escape(alt)}" stroke-linejoin="round" stroke-linecap="butt" '
    return _own_ids(svg.replace("<svg ", label, 1), title)


def _own_ids(svg: str, title: str) -> str:
    used = set(re.findall(r'(?:url\(|href=")#([^)"]+)', svg))
    stem = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")
    svg = re.sub(r' id="([^"]+)"', lambda m: f' id="{stem}-{m[1]}"' if m[1] in used else "", svg)
    svg = re.sub(r'(url\(|href=")#', rf"\1#{stem}-", svg)
    return re.sub(r"\n\s*", "\n", svg)
