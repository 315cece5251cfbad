"""The pieces a page is made of: plain dictionaries that HTML and PDF both show, so that they cannot disagree."""

from collections.abc import Iterable, Sequence
from typing import Any

from stripdown.figures.figure import Figure
from stripdown.record.text import seen

Block = dict[str, Any]
Run = str | dict[str, str]

_ALIGN = {"": "left", "l": "left", "c": "center", "r": "right"}
_VERBATIM = ("svg", "data")


def cleaned(value: Any) -> Any:
    """`seen` on every text inside; drawings and picture data stay as they are."""
    if isinstance(value, str):
        return seen(value)
    if isinstance(value, dict):
        return {k: v if k in _VERBATIM else cleaned(v) for k, v in value.items()}
    return [cleaned(v) for v in value] if isinstance(value, list) else value


def sentence(text: str) -> str:
    """The text with a capital at its start and one stop at its end."""
    text = text.strip().rstrip(".;")
    return text[:1].upper() + text[1:] + "."


def strong(text: str) -> Run:
    """Words that carry the sentence."""
    return {"b": text}


def para(*runs: Run) -> Block:
    """A paragraph of plain and strong words."""
    return {"kind": "para", "runs": list(runs)}


def small(text: str) -> Block:
    """A paragraph of explanation in small print."""
    return {"kind": "small", "text": text}


def heading(text: str) -> Block:
    """A heading inside a section."""
    return {"kind": "heading", "text": text}


def banner(word: str, mark: str, level: str, title: str, line: str) -> Block:
    """The answer in large print; `level` is good, warn or bad and stands as word and marker too."""
    return {"kind": "banner", "word": word, "mark": mark, "level": level, "title": title, "line": line}


def warning(word: str, text: str) -> Block:
    """Something a reader must not miss; `word` says what kind it is."""
    return {"kind": "warning", "word": word, "text": text}


def caution(items: Iterable[str]) -> Block:
    """Cautions, to stand before the step they belong to."""
    return {"kind": "caution", "items": list(items)}


def facts(pairs: Iterable[tuple[str, str | None]]) -> Block:
    """Labels with their values; what is not known is left out."""
    return {"kind": "facts", "pairs": [[k, v] for k, v in pairs if v]}


def bullets(items: Iterable[str | Sequence[Run]], *, ordered: bool = False) -> Block:
    """A list, numbered where the order matters."""
    return {"kind": "list", "ordered": ordered, "items": [[i] if isinstance(i, str) else list(i) for i in items]}


def cell(text: str, *, mark: str = "", level: str = "", note: str = "") -> Block:
    """A table cell with a marker before and a small line below its text."""
    return {"text": text, "mark": mark, "level": level, "note": note}


def table(
    caption: str,
    columns: Sequence[tuple[str, float]],
    rows: Iterable[Sequence[str | Block]],
    align: str = "",
    *,
    roomy: bool = False,
) -> Block:
    """A table; a column is its title and its share of the width; `align` one letter a column: l, c, r; `roomy`: rows
    are high enough to write in by hand."""
    whole = sum(share for _, share in columns)
    return {
        "kind": "table",
        "caption": caption,
        "columns": [
            {"title": title, "percent": round(100 * share / whole, 1), "align": _ALIGN[align[i : i + 1]]}
            for i, (title, share) in enumerate(columns)
        ],
        "rows": [[cell(c) if isinstance(c, str) else c for c in row] for row in rows],
        "roomy": roomy,
    }


def figure(drawn: Figure | None) -> list[Block]:
    """A figure at its own size [pt] where there is room for it, or nothing where there is nothing to draw."""
    if drawn is None:
        return []
    return [{"kind": "figure", "svg": drawn.svg, "alt": drawn.alt, "title": drawn.title, "width": drawn.size[0]}]


def pair(left: Figure | None, right: Figure | None) -> list[Block]:
    """Two figures beside each other where there is room."""
    both = figure(left) + figure(right)
    return [{"kind": "pair", "figures": both}] if len(both) == 2 else both


def quote(by: str, text: str) -> Block:
    """What a party says, as it came."""
    return {"kind": "quote", "by": by, "text": text}


def card(caution_text: str, items: Iterable[tuple[str, str]]) -> Block:
    """Checks that share a caution: that first, then each with what it is worth."""
    return {"kind": "card", "caution": caution_text, "items": [[title, worth] for title, worth in items]}


def form(title: str, choices: Sequence[str], fields: Sequence[tuple[str, int]], *, signed: Sequence[str] = ()) -> Block:
    """Boxes to tick and lines to write on; a field is its label and its number of lines. `signed`: who signs, each with
    a line for the name, the date and the signature."""
    lines = [[label, n] for label, n in fields]
    return {"kind": "form", "title": title, "choices": list(choices), "fields": lines, "signed": list(signed)}
