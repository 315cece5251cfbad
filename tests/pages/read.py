"""What a reader sees of a page, on the screen and in print."""

import re
from html.parser import HTMLParser
from io import BytesIO

from pypdf import PdfReader


class Text(HTMLParser):
    """What a reader sees of a page, and which elements and attributes it is built from."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.ids: list[str] = []
        self.headings: list[str] = []
        self._skip = False
        self.feed(source)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.ids += [value for name, value in attrs if name == "id" and value]
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(tag)
        self._skip = tag == "style"

    def handle_data(self, data: str) -> None:
        if not self._skip:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def pdf_text(raw: bytes) -> str:
    """All text of a PDF in one line."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(raw)).pages).split())


def texts(value: object) -> list[str]:
    """Every text of a content, drawings and picture data left out."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [t for k, v in value.items() if k not in ("svg", "data", "kind", "key", "paper") for t in texts(v)]
    return [t for v in value for t in texts(v)] if isinstance(value, list) else []


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)
