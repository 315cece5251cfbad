"""What a known accessibility checker finds wrong within one element."""

from typing import Any

RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]}}


def violations(page: Any, selector: str) -> list[str]:
    """Rule, what it says and where, one line a violation: labels, names, roles, contrast by WCAG 2.1 A and AA."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, context=selector, options=RULES).response["violations"]
    return [
        f"{v['id']}: {v['help']}: {n['html'][:160]} {n.get('failureSummary', '')}" for v in found for n in v["nodes"]
    ]
