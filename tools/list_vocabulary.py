"""Writes the ids of the vocabulary into docs/records.md, below its mark: `python tools/list_vocabulary.py`."""

from collections.abc import Iterator
from pathlib import Path

from stripdown import vocabulary

PAGE = Path(__file__).parents[1] / "docs" / "records.md"
MARK = "<!-- made by tools/list_vocabulary.py -->\n"


def listing() -> Iterator[str]:
    """The lines that follow the mark."""
    yield "Every part also takes `missing` and `wrong_part`. "
    yield "A condition with ° may stand without `extent`: it is then `heavy`.\n\n"
    yield "| part | conditions |\n|---|---|\n"
    for part, conditions in vocabulary.parts().items():
        own = [c for c in conditions if c not in ("missing", "wrong_part")]
        yield f"| `{part}` | {', '.join(_condition(part, c) for c in own)} |\n"
    yield "\n## What a person may confirm\n"
    for title, ids in (
        ("first mechanism", vocabulary.mechanisms()),
        ("cause", vocabulary.causes()),
        ("outcome", vocabulary.outcomes()),
        ("liability", vocabulary.liabilities()),
    ):
        yield f"\n| {title} | meaning |\n|---|---|\n"
        yield from (f"| `{name}` | {words} |\n" for name, words in ids.items())


def _condition(part: str, condition: str) -> str:
    return f"`{condition}`" + ("°" if vocabulary.presence_only(part, condition) else "")


def page() -> str:
    """The page with its listing renewed."""
    head, _, _ = PAGE.read_text(encoding="utf-8").partition(MARK)
    return head + MARK + "".join(listing())


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
