"""Lines that people write on: each who signs has one for the name, the date and the signature, long enough by hand."""

import re
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from stripdown import pages
from stripdown.case import Case
from stripdown.pages import blocks as b
from stripdown.pages.html import environment

MM = 72 / 25.4
GUTTER, MARGIN, INSET = 18.0, 17 * MM, 7.0
"""Between two lines; from the edge of the paper to the text, from there to the lines in a box [pt]."""
SIGNATURE, DATE = 50 * MM, 25 * MM
"""Room that a hand wants for a signature or a name, and for a date (common practice, no source) [pt]."""


def _signers(raw: bytes) -> list[tuple[str, list[float], float]]:
    """Who signs, where name, date and signature begin, and where their line ends on the right [pt]."""
    out: list[tuple[str, list[float], float]] = []
    for page in PdfReader(BytesIO(raw)).pages:
        said: list[tuple[str, float, float]] = []

        def visit(text: str, m: Any, t: Any, *_: Any, said: list[tuple[str, float, float]] = said) -> None:
            if text.strip():
                at = (m[i] * t[4] + m[i + 2] * t[5] + m[i + 4] for i in (0, 1))
                said.append((" ".join(text.split()), *at))

        page.extract_text(visitor_text=visit)
        for text, x, y in said:
            if found := re.fullmatch("(.*): name", text):
                row = sorted(left for word, left, at in said if word in ("date", "signature") and abs(at - y) < 1)
                out.append((found[1], [x, *row], float(page.mediabox.width) - MARGIN - INSET))
    return out


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(
    ("purpose", "who"),
    [
        ("warranty", ["Decided by", "For the claimant", "Examined by", "Checked by"]),
        ("site", ["For the site"]),
    ],
)
def test_each_has_a_line_of_its_own_to_sign_on(paper: Any, purpose: Any, who: list[str], floodback: Case) -> None:
    signers = _signers(pages.case_pdf(floodback, purpose=purpose, paper=paper))
    assert [name for name, _, _ in signers] == who
    for _, (name, date, signature), end in signers:
        assert date - name - GUTTER >= SIGNATURE
        assert signature - date - GUTTER >= DATE
        assert end - signature >= SIGNATURE


def test_the_screen_has_the_same_lines() -> None:
    made = environment().get_template("blocks.html").module.form(b.form("Seen", (), (), signed=("A & B", "C")))  # type: ignore[attr-defined]
    assert made.count('class="signed"') == 2
    assert made.count('class="line"') == 6
    assert "A &amp; B: name" in made
    assert re.findall(r"</span>(\w+)</span>", made) == ["date", "signature"] * 2
