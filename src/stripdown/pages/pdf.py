"""The same content as a PDF: one typst template, data handed over as JSON, so that text is never markup."""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stripdown import resources

if TYPE_CHECKING:
    from typst import Fonts

_TEMPLATE = Path(__file__).with_name("templates") / "page.typ"


def page(context: Mapping[str, Any]) -> bytes:
    """The PDF of a page; equal content gives equal bytes on every machine, whatever fonts it has."""
    import typst

    made: bytes = typst.compile(
        _TEMPLATE.read_bytes(),
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={"page": json.dumps(context, ensure_ascii=False)},
        timestamp=0,
    )
    return made


_PICTURE = b"""
#set page(width: auto, height: auto, margin: 8pt, fill: white)
#image(bytes(sys.inputs.svg), format: "svg")
"""
_DOTS_PER_INCH = 200.0


def png(svg: str) -> bytes:
    """A drawing of the figures room as a picture on white, at 200 dots an inch, for programs that take no SVG."""
    import typst

    made: bytes = typst.compile(
        _PICTURE,
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={"svg": svg},
        format="png",
        ppi=_DOTS_PER_INCH,
    )
    return made


@cache
def fonts() -> "Fonts":
    """The fonts inside typst and the sans serif that comes with matplotlib; none of the machine's."""
    from typst import Fonts

    return Fonts(include_system_fonts=False, font_paths=[str(resources.fonts())])
