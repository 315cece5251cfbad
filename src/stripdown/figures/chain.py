"""The chain of events: cause at the left, failed part at the right; what was seen told apart by word and outline."""

from html import escape

from stripdown import vocabulary
from stripdown.case import Case
from stripdown.figures.figure import BAD, GOOD, PLAIN, WARN, Figure, wrap
from stripdown.figures.levels import step_words
from stripdown.figures.words import chance_words, folded
from stripdown.reasoning.model import Step

_WIDTH, _GAP, _LINE, _PAD = 104.0, 18.0, 11.5, 7.0
_IN_A_ROW = 5


def kind(node: str) -> str:
    """What a step of the chain is: cause, mechanism, damage, part or reading."""
    if node in vocabulary.causes():
        return "cause"
    if node in vocabulary.mechanisms():
        return "mechanism"
    head, dot, _ = node.partition(".")
    return "part" if head in vocabulary.parts() else "reading" if dot else "damage"


_COLOURS = {"cause": WARN, "mechanism": GOOD, "damage": PLAIN, "part": BAD, "reading": BAD}


def chain(case: Case) -> Figure | None:
    """The most probable chain that the evidence supports; None where there is none."""
    steps = case.finding.chain
    if not steps:
        return None
    columns = -(-len(steps) // -(-len(steps) // _IN_A_ROW))
    words = [step_words(case, s) for s in steps]
    texts = [folded(said, 17).split("\n") for said in words]
    height = 2 * _PAD + _LINE * (2.4 + max(len(t) for t in texts))
    body = [_arrowhead()]
    for i, (step, lines) in enumerate(zip(steps, texts, strict=True)):
        row, column = divmod(i, columns)
        x, y = 1 + column * (_WIDTH + _GAP), 1 + row * (height + 24)
        body.append(_box(step, lines, x, y, height))
        if i + 1 < len(steps):
            body.append(_arrow(x, y, height, last=column == columns - 1))
    rows = -(-len(steps) // columns)
    said = " → ".join(f"{w} ({_how_known(s)})" for w, s in zip(words, steps, strict=True))
    return wrap(
        "".join(body),
        columns * _WIDTH + (columns - 1) * _GAP + 2,
        rows * height + (rows - 1) * 24 + 2,
        title="Chain of events",
        alt=f"From cause to failed part: {said}.",
    )


def _box(step: Step, lines: list[str], x: float, y: float, height: float) -> str:
    what = kind(step.node)
    outline = 'stroke-width="2"' if step.seen else 'stroke-width="1.2" stroke-dasharray="4 3"'
    left, foot = x + _PAD, y + height - _PAD
    text = "".join(_text(left, y + _PAD + _LINE * (2 + i), 9, line) for i, line in enumerate(lines))
    return (
        f'<rect x="{x:g}" y="{y:g}" width="{_WIDTH:g}" height="{height:g}" rx="4" fill="none" '
        f'stroke="currentColor" {outline}/>'
        f'<rect x="{x + 1:g}" y="{y + 3:g}" width="3" height="{height - 6:g}" fill="{_COLOURS[what]}"/>'
        + _text(left, y + _PAD + _LINE * 0.7, 7.5, what.upper(), 'font-weight="bold"')
        + text
        + _text(left, foot, 8, "● seen" if step.seen else "○ inferred")
        + _text(x + _WIDTH - _PAD, foot, 8, "" if step.seen else chance_words(step.probability), 'text-anchor="end"')
    )


def _how_known(step: Step) -> str:
    return "seen" if step.seen else f"inferred, {chance_words(step.probability)}"


def _text(x: float, y: float, size: float, text: str, more: str = "") -> str:
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" {more}>{escape(text)}</text>'


def _arrow(x: float, y: float, height: float, *, last: bool) -> str:
    """To the box at the right; from the last of a row down and back to the first of the next."""
    middle = y + height / 2
    path = f"M{x + _WIDTH + 2:g} {middle:g}h{_GAP - 6:g}"
    if last:
        path = f"M{x + _WIDTH / 2:g} {y + height + 1:g}v11H{1 + _WIDTH / 2:g}v8"
    return f'<path d="{path}" fill="none" stroke="currentColor" stroke-width="1.3" marker-end="url(#tip)"/>'


def _arrowhead() -> str:
    return (
        '<defs><marker id="tip" viewBox="0 0 6 6" refX="4" refY="3" markerWidth="6" markerHeight="6" orient="auto">'
        '<path d="M0 0L6 3L0 6z" fill="currentColor"/></marker></defs>'
    )
