"""Pages for people: the root-cause page of a case, the fleet page and the index, as HTML and PDF from one content."""

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
