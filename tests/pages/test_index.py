"""The index of a batch: order, marks, totals, faults, and that no text of a record becomes markup."""

import base64
import hashlib
import re

from stripdown.pages import index_html
from tests.pages import cases


def _rows() -> list[dict[str, object]]:
    base = cases.floodback().as_json(brief=True)
    dear = base["outcome"] | {"expected_cost": 9000.0}
    return [
        base | {"claim": "CHEAP"},
        base | {"claim": "DEAR", "outcome": dear},
        base | {"claim": "SIGNED", "outcome": dear, "confirmed": [{"by": "analyst 2"}]},
        base | {"claim": "LIKELY", "status": "likely"},
        {
            "claim": None,
            "file": "returns/bad.toml",
            "status": "rejected",
            "faults": [
                {
                    "file": "returns/bad.toml",
                    "entry": "readings[3].unit",
                    "what": "'psy' is no unit",
                    "fix": "write psi",
                },
                {"file": "returns/bad.toml", "entry": "", "what": "<b>second</b>", "fix": "mend"},
            ],
        },
        {
            "claim": "LATE",
            "file": "late.toml",
            "state": "timed_out",
            "faults": [{"what": "took too long", "fix": "wait"}],
        },
        base | {"claim": "OPEN", "status": "open"},
        base | {"claim": "CLASH", "status": "conflicting"},
    ]


def _order(html: str) -> list[str]:
    cells = re.findall(r'<td data-title="Claim" class="word own">(.*?)</td>', html)
    return [re.sub(r"<small>.*|<[^>]*>", "", c) for c in cells]


def test_what_needs_a_person_stands_first() -> None:
    expected = ["CLASH", "OPEN", "returns/bad.toml", "LATE", "LIKELY", "DEAR", "CHEAP", "SIGNED"]
    assert _order(index_html(_rows())) == expected
    assert _order(index_html(reversed(_rows()))) == expected


def test_faults_of_a_rejected_record_stand_in_its_row() -> None:
    html = index_html(_rows())
    assert "2 faults: returns/bad.toml" in html
    assert "<strong>readings[3].unit</strong>: &#39;psy&#39; is no unit; write psi" in html
    assert "&lt;b&gt;second&lt;/b&gt;" in html


def test_links_lead_to_the_page_of_the_claim() -> None:
    html = index_html([*_rows(), _rows()[0] | {"claim": "ELSEWHERE", "page": "other/page.html"}])
    assert '<a href="DEAR/page.html">DEAR</a>' in html
    assert '<a href="other/page.html">ELSEWHERE</a>' in html
    assert "LATE/page.html" not in html


def test_status_has_word_and_marker_and_totals_add_up() -> None:
    html = index_html(_rows())
    assert re.search(r"✕</span> conflicting", html)
    assert "<dt>Records</dt><dd>8</dd>" in html
    assert "<dt>⊘ rejected</dt><dd>1</dd>" in html
    assert "<dt>Signed off</dt><dd>1 of 6</dd>" in html
    # four at 2140, two at 9000
    assert "<dt>Expected cost of the proposals</dt><dd>EUR 26\u00a0560</dd>" in html
    assert "✓ analyst 2" in html


def test_amounts_by_the_invented_table_are_told_once() -> None:
    assert index_html(_rows()).count("which is invented, until --costs gives your own") == 1
    assert "invented" not in index_html(_rows(), own_costs=True)
    assert "invented" not in index_html(_rows()[4:6])  # nothing was priced


def test_only_its_own_script_may_run() -> None:
    html = index_html(_rows())
    (script,) = re.findall(r"<script>(.*?)</script>", html, flags=re.S)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in html
    assert not re.search(r" on[a-z]+=", html)


def test_hostile_text_stays_text() -> None:
    html = index_html([cases.hostile().as_json(brief=True)])
    assert html.count("<script>") == 1
    assert "{{7*7}}" in html
    assert "\u202e" not in html
    assert 'data-model="$x^2$ *bold* _it_ `code` @ref &lt;label&gt; \\"' in html


def test_nothing_to_show_is_a_page_too() -> None:
    assert "<dt>Records</dt><dd>0</dd>" in index_html([])


def test_same_rows_same_bytes() -> None:
    assert index_html(_rows()) == index_html(_rows())
