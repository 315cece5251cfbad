"""Draw the knowledge: one picture for what feeds what, and one for each file of findings, made from the data.

    python tools/draw_knowledge.py [FOLDER]

Writes SVG into docs/knowledge (or FOLDER). A test holds that what stands there is what this draws.
"""

import sys
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

from stripdown import knowledge
from stripdown.cli.knowledge import strength
from stripdown.knowledge import Knowledge
from stripdown.knowledge.files import FOLDER as DATA
from stripdown.knowledge.model import Link
from stripdown.vocabulary import label

OUT = Path(__file__).resolve().parents[1] / "docs" / "knowledge"
ROW, TOP, LEFT, RIGHT, WIDTH, GAP = 19, 64, 330, 620, 960, 7
STYLES = {
    "S": ("2.6", ""),
    "M": ("1.5", ""),
    "W": ("1.1", "6 3"),
    "-": ("0.9", "2 3"),
}
"""Letter of a ratio → width and dashes of its line."""
COLOURS = ("#0b5394", "#a64d00", "#38761d", "#741b47", "#45607a", "#7f6000")
"""By the node a line comes from, in turn: only to follow a line with the eye; style and letter carry the meaning."""


@dataclass(frozen=True)
class Line:
    """One link: names as they are drawn, letter of its ratio, words for who points at it."""

    parent: str
    effect: str
    letter: str
    words: str


def parent_words(parents: Sequence[str]) -> str:
    """Parents of one link: 'first' where they count only as the first mechanism."""
    return " and ".join(f"{label(p.removesuffix('!'))} (first)" if p.endswith("!") else label(p) for p in parents)


def lines_of(effect: str, links: Iterable[Link], otherwise: float) -> list[Line]:
    """The links into one effect; one of several from the same parents (by context) is drawn: the strongest."""
    best: dict[str, tuple[float, str]] = {}
    for link in links:
        ratio = sum(link.shows) / otherwise if otherwise else float("inf")
        name = parent_words(link.parents)
        if name not in best or ratio > best[name][0]:
            words = f"{label(effect)}: {sum(link.shows):.3g} with {name}, {otherwise:.3g} otherwise. {link.why}"
            best[name] = (ratio, words)
    return [Line(name, label(effect), strength(ratio), words) for name, (ratio, words) in best.items()]


def drawings(rules: Knowledge) -> dict[str, str]:
    """File name → SVG text of every drawing."""
    out = {}
    states = [line for s in rules.states for line in lines_of(s.id, s.links, s.otherwise)]
    out["states.svg"] = draw("What follows from what: mechanisms and damage states", "brought by", "state", states)
    feeds = []
    for cause in rules.causes.values():
        for mechanism, share, _ in cause.feeds:
            words = f"{label(cause.id)} at work in {share:.0%} where {label(mechanism)} was first"
            letter = "S" if share >= 0.3 else "M" if share >= 0.15 else "W" if share >= 0.05 else "-"
            feeds.append(Line(label(cause.id), label(mechanism), letter, words))
    out["causes.svg"] = draw(
        "What to put right: causes and the mechanisms they feed", "cause", "first mechanism", feeds
    )
    for path in sorted((DATA / "findings").glob("*.toml")):
        ids = [entry["id"] for entry in tomllib.loads(path.read_text(encoding="utf-8"))["finding"]]
        shown = [line for i in ids for line in lines_of(i, rules.findings[i].links, sum(rules.findings[i].otherwise))]
        title = f"Findings: {path.stem.replace('_', ' ')}"
        out[f"{path.stem}.svg"] = draw(title, "shown by", "finding", shown)
    return out


def draw(title: str, left: str, right: str, shown: Sequence[Line]) -> str:
    """Parents in the left column, effects in the right one, a line for each link."""
    effects = list(dict.fromkeys(x.effect for x in shown))
    place = {e: i for i, e in enumerate(effects)}
    parents = sorted({x.parent for x in shown}, key=lambda p: (_middle(p, shown, place), p))
    rows = max(len(effects), len(parents))
    height = TOP + rows * ROW + 44
    y_left = {p: TOP + (i + 0.5) * rows * ROW / len(parents) for i, p in enumerate(parents)}
    y_right = {e: TOP + (i + 0.5) * rows * ROW / len(effects) for i, e in enumerate(effects)}
    alt = f"{title}: {len(shown)} links from {len(parents)} {left} to {len(effects)} {right}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{escape(alt)}"'
        ' font-family="sans-serif" font-size="12">',
        f'<rect width="{WIDTH}" height="{height}" fill="#fff"/>',
        _text(WIDTH / 2, 22, title, "middle", size=16),
        _text(LEFT, 48, left, "end", size=11),
        _text(RIGHT, 48, right, "start", size=11),
    ]
    for i, parent in enumerate(parents):
        colour = COLOURS[i % len(COLOURS)]
        for x in (x for x in shown if x.parent == parent):
            parts.append(_line(y_left[parent], y_right[x.effect], x, colour))
    parts += [_text(LEFT, y + 4, name, "end") for name, y in y_left.items()]
    parts += [_text(RIGHT, y + 4, name, "start") for name, y in y_right.items()]
    parts.append(_legend(height - 16, right))
    return "\n".join([*parts, "</svg>", ""])


def _middle(parent: str, shown: Sequence[Line], place: dict[str, int]) -> float:
    at = [place[x.effect] for x in shown if x.parent == parent]
    return sum(at) / len(at)


def _text(x: float, y: float, words: str, anchor: str, *, size: int = 12) -> str:
    return f'<text x="{x:g}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" fill="#111">{escape(words)}</text>'


def _line(y1: float, y2: float, x: Line, colour: str) -> str:
    width, dashes = STYLES.get(x.letter, STYLES["-"])
    dash = f' stroke-dasharray="{dashes}"' if dashes else ""
    a, b = LEFT + GAP, RIGHT - GAP
    bend = (b - a) * 0.4
    path = f"M{a} {y1:.1f}C{a + bend:.0f} {y1:.1f} {b - bend:.0f} {y2:.1f} {b} {y2:.1f}"
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width}"{dash}>'
        f"<title>{escape(x.words)}</title></path>"
    )


def _legend(y: float, right: str) -> str:
    shares = right == "first mechanism"
    words = (
        {"S": "in 30 of 100 or more", "M": "15 or more", "W": "5 or more", "-": "fewer"}
        if shares
        else {"S": "30 times as often or more", "M": "5 times", "W": "twice", "-": "less"}
    )
    out = []
    for i, (letter, meaning) in enumerate(words.items()):
        width, dashes = STYLES[letter]
        dash = f' stroke-dasharray="{dashes}"' if dashes else ""
        at = 150 + 190 * i
        out.append(f'<path d="M{at} {y - 4}h34" stroke="#111" stroke-width="{width}"{dash}/>')
        out.append(_text(at + 40, y, meaning if shares else f"{letter}: {meaning}", "start", size=11))
    return "\n".join(out)


def main() -> None:
    """Write every drawing."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else OUT
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in drawings(knowledge.load()).items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
