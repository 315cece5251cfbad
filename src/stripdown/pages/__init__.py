"""Pages for people: the root-cause page of a case, the fleet page and the index, as HTML and PDF from one content."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stripdown.pages import sections
    from stripdown.pages.bench_sheet import sheet_pdf
    from stripdown.pages.case_page import case_html, case_pdf
    from stripdown.pages.fleet_page import FLEET_SECTIONS, fleet_html, fleet_pdf
    from stripdown.pages.html import lesson_style, style
    from stripdown.pages.index import index_html
    from stripdown.pages.lesson_handout import handout_html, handout_pdf
    from stripdown.pages.lesson_page import lesson_html, lesson_pdf
    from stripdown.pages.pdf import png
    from stripdown.pages.sections import SECTIONS

__all__ = [
    "FLEET_SECTIONS",
    "SECTIONS",
    "case_html",
    "case_pdf",
    "fleet_html",
    "fleet_pdf",
    "handout_html",
    "handout_pdf",
    "index_html",
    "lesson_html",
    "lesson_pdf",
    "lesson_style",
    "png",
    "sections",
    "sheet_pdf",
    "style",
]

_MODULES = {
    "bench_sheet": ("sheet_pdf",),
    "case_page": ("case_html", "case_pdf"),
    "fleet_page": ("FLEET_SECTIONS", "fleet_html", "fleet_pdf"),
    "html": ("lesson_style", "style"),
    "index": ("index_html",),
    "lesson_handout": ("handout_html", "handout_pdf"),
    "lesson_page": ("lesson_html", "lesson_pdf"),
    "pdf": ("png",),
    "sections": ("SECTIONS",),
}


def __getattr__(name: str) -> Any:
    """Import a page once it is asked for: that of a case needs nothing of what the fleet takes long to load."""
    if name == "sections":
        return import_module("stripdown.pages.sections")
    for module, names in _MODULES.items():
        if name in names:
            return getattr(import_module(f"stripdown.pages.{module}"), name)
    raise AttributeError(f"module 'stripdown.pages' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
