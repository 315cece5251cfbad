"""What a workbook sends to the browser before it shows itself: its style, and the scripts that it needs there."""

from pathlib import Path
from typing import Any

from IPython.display import HTML, Javascript

_HERE = Path(__file__).parent


def front(style: str, *scripts: str) -> tuple[Any, Any]:
    """A style element and scripts (files of this room), those that all workbooks share first; to be displayed."""
    code = "\n".join((_HERE / name).read_text(encoding="utf-8") for name in ("workbook.js", *scripts))
    return HTML(style), Javascript(code)  # type: ignore[no-untyped-call]  # IPython's own
