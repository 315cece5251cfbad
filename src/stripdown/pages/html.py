"""Sections and whole pages as HTML: own templates, every text escaped, nothing fetched from anywhere."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

_TEMPLATES = Path(__file__).with_name("templates")


@cache
def environment() -> Environment:
    """The templates of this room; a missing value is an error, not a gap."""
    made = Environment(
        loader=FileSystemLoader(_TEMPLATES, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters["drawing"] = Markup  # only for SVG that the figures room wrote; it escapes its own texts
    return made


@cache
def sheet() -> str:
    """The style sheet of all pages."""
    return (_TEMPLATES / "page.css").read_text(encoding="utf-8")


def style() -> str:
    """The style sheet as an element, for a notebook that shows sections one by one."""
    return f"<style>{sheet()}</style>"


def section(content: Mapping[str, Any]) -> str:
    """One section as a fragment that stands by itself."""
    return environment().get_template("section.html").render(section=content)


def page(context: Mapping[str, Any]) -> str:
    """A whole page: title, facts and sections in one file."""
    return environment().get_template("page.html").render(page=context, style=Markup(sheet()))


def lesson_style() -> str:
    """The style sheet of a lesson, larger than that of other pages, as an element for a notebook."""
    return f"<style>{_lesson_sheet()}</style>"


def lesson(context: Mapping[str, Any]) -> str:
    """A lesson: an opening, then stations that are closed until somebody opens them."""
    return environment().get_template("lesson.html").render(page=context, style=Markup(_lesson_sheet()))


@cache
def _lesson_sheet() -> str:
    return sheet() + (_TEMPLATES / "lesson.css").read_text(encoding="utf-8")
