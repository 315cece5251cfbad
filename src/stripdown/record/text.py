"""Text from a file is data: how it is cleaned, refused and quoted in messages."""

import json
import re
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date
from difflib import SequenceMatcher, get_close_matches

_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")
_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff]")
_LINE_ENDS = re.compile("\r\n?|\u2028|\u2029")


def cleaned(text: str) -> tuple[str, bool]:
    """Free text without control characters (newline and tab stay) or half characters; whether any were taken out."""
    text = _LINE_ENDS.sub("\n", text)
    clean = _CONTROL.sub("", text)
    return clean.strip(), clean != text


def seen(text: str) -> str:
    """The text with its control and direction marks made visible: none can reorder or hide what is around it."""
    return _UNSEEN.sub("\ufffd", text)


def invisible(text: str) -> str | None:
    """The first character that cannot be seen or turns the writing direction, as U+202E; None where all can be seen."""
    if text.isprintable():  # the common case, without looking at each character
        return None
    for char in text:
        if unicodedata.category(char)[0] == "C" or char in "\u2028\u2029":
            return f"U+{ord(char):04X}"
    return None


def shown(value: object, width: int = 60) -> str:
    """A value as a message quotes it: short, and with nothing in it that a terminal or a page would act on."""
    if isinstance(value, str):
        cut = value if len(value) <= width else value[: width - 1] + "…"
        return json.dumps(printable(cut), ensure_ascii=False).replace("\\\\", "\\")
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return value.isoformat()
    text = str(value)
    return text if len(text) <= width else f"{text[:20]}… ({len(text)} characters)"


_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def cell(value: object) -> object:
    """What a table in CSV holds of it: text that no program takes for a formula; nothing for None."""
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return "" if value is None else value


def figure(number: float) -> str:
    """A bound as a person writes it: 1000000 rather than 1e+06."""
    return str(int(number)) if float(number).is_integer() and abs(number) < 1e15 else f"{number:g}"


def printable(text: str) -> str:
    """Every character that cannot be seen written as \\uXXXX."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)


def named(path: object) -> str:
    """A path as it is written, spaces of every kind kept; what cannot be seen as \\uXXXX."""
    return "".join(c if unicodedata.category(c) == "Zs" else printable(c) for c in str(path))


def near(word: str, allowed: Iterable[str]) -> str | None:
    """The allowed word that was probably meant."""
    options = {a.casefold(): a for a in allowed}
    found = get_close_matches(
        word[:60].casefold().strip().replace(" ", "_").replace("-", "_"), list(options), n=1, cutoff=0.7
    )
    return options[found[0]] if found else None


def closest(word: str, allowed: Iterable[str], most: int) -> list[str]:
    """The allowed words most like it, case ignored, best first; words of one likeness in their order."""
    plain = word[:60].casefold()
    likeness = {a: SequenceMatcher(None, a[:60].casefold(), plain).ratio() for a in sorted(allowed)}
    return sorted(likeness, key=lambda a: -likeness[a])[:most]


def either(words: Sequence[str]) -> str:
    """'a, b or c'."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
