"""Bars of a case: how probable each first mechanism is, and what each finding weighs."""

from stripdown.case import Case
from stripdown.figures.figure import BAD, GOOD, PLAIN, Figure, once, wrap
from stripdown.figures.plot import GAP, INK, PAD, Frame, box, labels, line, sizes, steps, text, width
from stripdown.figures.words import chance_words, finding_words, folded, strength
from stripdown.vocabulary import label

_MOST = 5
_MOST_FINDINGS = 10
_WIDTH = 374.4
_MARKS, _AWAY = {0.60: "likely", 0.90: "established"}, 0.012
"""Where a status begins; how far a number stands from a bar or a mark [of the axis]."""
_BAR = 0.62
"""Height of a bar [of its row]."""
_HATCHED = (
    '<defs><pattern id="against" patternUnits="userSpaceOnUse" width="4.5" height="4.5">'
    f'<rect width="5" height="5" fill="{BAD}"/>'
    f'<path d="M-1 1L1 -1M0 4.5L4.5 0M3.5 5.5L5.5 3.5" stroke="{INK}" stroke-width=".7"/></pattern></defs>'
)


@once
def first_mechanisms(case: Case) -> Figure:
    """The most probable first mechanisms and the rest together, with the marks of `likely` and `established`."""
    rows = [(label(s.id), s.probability or 0.0) for s in case.finding.first[:_MOST]]
    rest = case.finding.first[_MOST:]
    if rest:
        rows.append((f"the other {len(rest)}", sum(s.probability or 0.0 for s in rest)))
    names, told = [name for name, _ in rows], [chance_words(p) for _, p in rows]
    height = 30.24 + 15.84 * len(rows)
    left = PAD + max(width(name, 9) for name in names) + GAP
    room = _WIDTH - PAD - left
    full = min(room / 1.12, *((room - width(t, 9)) / (p + _AWAY) for t, (_, p) in zip(told, rows, strict=True)))
    frame = Frame(left, PAD + 8.4, left + full, height - PAD)
    at, (middles, each) = frame.across(0, 1), frame.rows([1] * len(rows))
    body = []
    for mark, word in _MARKS.items():
        body.append(line(at(mark), frame.top, at(mark), frame.bottom, PLAIN, dash="2.4 1.6"))
        body.append(text(at(mark), PAD + 3.2, f"{word}: {100 * mark:.0f} %", 8, "middle"))
    for i, (y, (_, p)) in enumerate(zip(middles, rows, strict=True)):
        body.append(box(left, at(p), y, _BAR * each, PLAIN if i else GOOD))
        body.append(text(at(_clear(p, width(told[i], 9) / (at(1) - at(0)))), y, told[i]))
    body += [line(left, frame.top, left, frame.bottom), labels(left - GAP, middles, names, anchor="end")]
    said = "; ".join(f"{name} {words}" for name, words in zip(names, told, strict=True))
    alt = f"Probability of each first mechanism: {said}."
    return wrap("".join(body), _WIDTH, height, title="Which mechanism came first", alt=alt)


def _clear(p: float, wide: float) -> float:
    """Where a number so wide stands at the end of a bar: beyond a mark that would go through it."""
    crossed = [mark for mark in _MARKS if p < mark < p + _AWAY + wide]
    return max([p, *crossed]) + _AWAY


@once
def evidence(case: Case) -> Figure | None:
    """What each finding adds to or takes from the headline [decibans]; None where nothing was weighed."""
    weights = sorted(case.finding.evidence, key=lambda w: -abs(w.decibans))
    if not weights:
        return None
    rows = [(folded(finding_words(w.finding), 38), w.decibans) for w in weights[:_MOST_FINDINGS]]
    if weights[_MOST_FINDINGS:]:
        rest = weights[_MOST_FINDINGS:]
        rows.append((f"{len(rest)} more together", sum(w.decibans for w in rest)))
    names, told = [name for name, _ in rows], [f"{w:+.1f} {strength(w)}".replace("-", "−") for _, w in rows]
    heights = sizes(names)
    height = 39.6 + 15.84 * sum(heights)
    left, right = (PAD + max(width(w, 9) for w in words) + GAP for words in (names, told))
    frame = Frame(left, PAD, _WIDTH - right, height - 31)
    low, high = min(0.0, *(w for _, w in rows)), max(0.0, *(w for _, w in rows))
    reach = (high - low) or 1.0
    low, high = low - 0.05 * reach * (low < 0), high + 0.05 * reach * (high > 0 or low == high)
    at, (middles, each) = frame.across(low, high), frame.rows(heights)
    body = [_HATCHED] if low < 0 else []
    for y, (_, weight) in zip(middles, rows, strict=True):
        body.append(box(at(0), at(weight), y, _BAR * each, GOOD if weight >= 0 else "url(#against)"))
    body += [line(at(0), frame.top, at(0), frame.bottom, PLAIN), line(left, frame.bottom, frame.right, frame.bottom)]
    for number, written in zip(*steps(low, high, max(1, int((frame.right - left) / 27))), strict=True):
        body.append(line(at(number), frame.bottom, at(number), frame.bottom + GAP))
        body.append(text(at(number), frame.bottom + 10.6, written, anchor="middle"))
    body += [labels(left - GAP, middles, names, anchor="end"), labels(frame.right + GAP, middles, told)]
    head = label(case.finding.first[0].id)
    axis = f"decibans: against {head} ◀  ▶ for {head}"
    half = width(axis, 8) / 2 + PAD
    middle = min(max((left + frame.right) / 2, half), _WIDTH - half)
    body.append(text(middle, height - 7.8, axis, 8, "middle"))
    said = "; ".join(f"{name} {weight:+.1f}".replace("\n", " ") for name, weight in rows)
    alt = f"Decibans for or against {head}: {said}."
    return wrap("".join(body), _WIDTH, height, title="What each finding weighs", alt=alt)
