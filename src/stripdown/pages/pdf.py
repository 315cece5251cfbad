"""The same content as a PDF: one typst template, data handed over as JSON, so that text is never markup."""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from typst import Fonts

_TEMPLATE = Path(__file__).with_name("templates") / "page.typ"


def page(context: Mapping[str, Any]) -> bytes:
    """The PDF of a page; equal content gives equal bytes on every machine, whatever fonts it has."""
    import typst

    made: bytes = typst.compile(
        _TEMPLATE.read_bytes(),
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"page": json.dumps(context, ensure_ascii=False)},
        timestamp=0,
    )
    return made


@cache
def _fonts() -> "Fonts":
    """The fonts inside typst and the sans serif that comes with matplotlib; none of the machine's."""
    import matplotlib as mpl
    from typst import Fonts

    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    return Fonts(include_system_fonts=False, font_paths=[str(folder)])
