"""Bars of a case: how probable each first mechanism is, and what each finding weighs."""

from stripdown.case import Case
from stripdown.figures.figure import BAD, GOOD, PLAIN, Figure, canvas, column, drawn, finish
from stripdown.figures.words import finding_words, folded, percent, strength
from stripdown.vocabulary import label

_MOST = 5
_MOST_FINDINGS = 10


@drawn
def first_mechanisms(case: Case) -> Figure:
    """The most probable first mechanisms and the rest together, with the marks of `likely` and `established`."""
    rows = [(label(s.id), s.probability or 0.0) for s in case.finding.first[:_MOST]]
    rest = case.finding.first[_MOST:]
    if rest:
        rows.append((f"the other {len(rest)}", sum(s.probability or 0.0 for s in rest)))
    drawing, (ax,) = canvas(5.2, 0.42 + 0.22 * len(rows))
    y = range(len(rows), 0, -1)
    colours = [GOOD] + [PLAIN] * (len(rows) - 1)
    ax.barh(y, [p for _, p in rows], height=0.62, color=colours)
    for at, (_, p) in zip(y, rows, strict=True):
        ax.text(p + 0.012, at, percent(p), va="center")
    for mark, word in ((0.60, "likely"), (0.90, "established")):
        ax.axvline(mark, linestyle=(0, (3, 2)), linewidth=0.8, color=PLAIN, zorder=0)
        ax.text(mark, len(rows) + 0.62, f"{word}: {100 * mark:.0f} %", ha="center", va="bottom", fontsize=8)
    ax.set_yticks(list(y), [name for name, _ in rows])
    ax.set_xlim(0, 1.12)
    ax.set_ylim(0.4, len(rows) + 0.6)
    ax.set_xticks([])
    ax.tick_params(length=0)
    ax.spines["bottom"].set_visible(False)
    said = "; ".join(f"{name} {percent(p)}" for name, p in rows)
    return finish(drawing, title="Which mechanism came first", alt=f"Probability of each first mechanism: {said}.")


@drawn
def evidence(case: Case) -> Figure | None:
    """What each finding adds to or takes from the headline [decibans]; None where nothing was weighed."""
    weights = sorted(case.finding.evidence, key=lambda w: -abs(w.decibans))
    if not weights:
        return None
    rows = [(folded(finding_words(w.finding), 38), w.decibans) for w in weights[:_MOST_FINDINGS]]
    if weights[_MOST_FINDINGS:]:
        rest = weights[_MOST_FINDINGS:]
        rows.append((f"{len(rest)} more together", sum(w.decibans for w in rest)))
    height = 0.55 + sum(0.22 + 0.15 * name.count("\n") for name, _ in rows)
    drawing, (ax,) = canvas(5.2, height)
    y = range(len(rows), 0, -1)
    for at, (_, weight) in zip(y, rows, strict=True):
        ax.barh(at, weight, height=0.62, color=GOOD if weight >= 0 else BAD, hatch="" if weight >= 0 else "////")
    ax.axvline(0, linewidth=0.8, color=PLAIN)
    ax.set_ylim(0.4, len(rows) + 0.6)
    ax.set_yticks(list(y), [name for name, _ in rows], linespacing=0.95)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)
    words = [f"{w:+.1f} {strength(w)}".replace("-", "−") for _, w in rows]
    column(ax, list(y), words)
    head = label(case.finding.first[0].id)
    ax.set_xlabel(f"decibans: against {head} ◀  ▶ for {head}", fontsize=8)
    said = "; ".join(f"{name} {weight:+.1f}".replace("\n", " ") for name, weight in rows)
    return finish(drawing, title="What each finding weighs", alt=f"Decibans for or against {head}: {said}.")
