"""What a class earned in a lesson, as a fragment for a screen."""

from collections.abc import Sequence

from stripdown.lesson.score import Scored
from stripdown.pages import blocks as b
from stripdown.pages import html
from stripdown.pages.lesson_answer import HOW_SCORED, earned
from stripdown.vocabulary import label


def score_html(answer: str, scores: Sequence[Scored]) -> str:
    """Every guess with its points; the last one before the answer is the one that counts."""
    if not scores:
        return html.section({"key": "score", "title": "The class's score", "blocks": [b.para("No guess was made.")]})
    rows: list[list[str | b.Block]] = [
        [
            s.station,
            b.cell(label(s.guess.candidate), mark="●" if s.guess.candidate == answer else "✕"),
            f"{100 * s.guess.confidence:.0f}",
            earned(s.points),
        ]
        for s in scores
    ]
    last = scores[-1]
    right = last.guess.candidate == answer
    title = f"{earned(last.points)} points"
    line = f"The last guess was {'right' if right else 'wrong'}: {label(last.guess.candidate)}."
    columns = (("After", 3), ("Guess", 3), ("How sure", 1), ("Points", 1))
    blocks = [
        b.banner("LAST GUESS", "●" if right else "✕", "good" if right else "bad", title, line),
        b.table("Guess by guess", columns, rows, "llrr"),
        b.para(HOW_SCORED),
    ]
    return html.section({"key": "score", "title": "The class's score", "blocks": blocks})
