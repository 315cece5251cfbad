"""Where an explorer stands and what it looked at, kept in a small file and taken up again by its next kernel."""

import json
from collections.abc import Iterator
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

from stripdown.widgets.explorer import Explorer
from stripdown.widgets.explorer_compare import Question
from stripdown.widgets.explorer_measure import Measure
from stripdown.widgets.intake_file import write_whole


class KeptFile:
    """One file for each source of returns: other returns have looks of their own."""

    def __init__(self, folder: Path, source: str) -> None:
        self.path = folder / f"looks-{sha256(source.encode('utf-8', 'surrogatepass')).hexdigest()[:8]}.json"
        self._said = ""

    def save(self, explorer: Explorer) -> str | None:
        """Write it whole where anything changed. None = done, else why nothing was saved."""
        said = json.dumps(stand(explorer), ensure_ascii=True, indent=1) + "\n"
        if said == self._said:
            return None
        try:
            write_whole(self.path, said.encode())
        except OSError as error:
            return f"{self.path} cannot be written: {error.strerror or type(error).__name__}"
        self._said = said
        return None

    def take_up(self, explorer: Explorer) -> None:
        """Bring a fresh explorer to where the file says it stood; what the returns no longer have is passed over."""
        raw: Any = None
        with suppress(OSError, ValueError, RecursionError):
            raw = json.loads(self.path.read_text(encoding="utf-8"))
        if isinstance(raw, dict):
            _bring(explorer, raw)


def stand(explorer: Explorer) -> dict[str, Any]:
    """What is kept: the question, what is open, and what was looked at; no answer, for the returns may have changed."""
    choice = explorer.choice
    return {
        "kept": choice.kept,
        "measure": [choice.measure.kind, choice.measure.of],
        "by": choice.by,
        "order": choice.order,
        "opened": explorer.opened,
        "rest": explorer.rest,
        "panel": explorer.panel,
        "looks": [
            {"kept": q.kept, "measure": [q.measure.kind, q.measure.of], "by": q.by, "a": q.a, "b": q.b}
            for q in (look.question for look in explorer.looks)
        ],
    }


def _bring(explorer: Explorer, raw: dict[str, Any]) -> None:
    looks = raw.get("looks")
    explorer.look_again(
        [_question(look) for look in looks if isinstance(look, dict)] if isinstance(looks, list) else []
    )
    for dimension, names in _kept(raw.get("kept")):
        for name in names:
            explorer.keep(dimension, name)
    explorer.ask(*_texts(raw.get("measure"), 2))
    explorer.group(_text(raw.get("by")))
    explorer.arrange(_text(raw.get("order")))
    explorer.show(_text(raw.get("panel")))
    if raw.get("opened") is not None:
        explorer.open(_text(raw.get("opened")))
        explorer.against(_text(raw.get("rest")))
    explorer.refused = None


def _question(raw: dict[str, Any]) -> Question:
    kind, of = _texts(raw.get("measure"), 2)
    a, b, by = (_text(raw.get(k)) for k in ("a", "b", "by"))
    return Question(tuple(_kept(raw.get("kept"))), Measure(kind, of), by, a, b)


def _kept(raw: Any) -> Iterator[tuple[str, tuple[str, ...]]]:
    for pair in raw if isinstance(raw, list) else ():
        if isinstance(pair, list) and len(pair) == 2 and isinstance(pair[1], list):
            yield _text(pair[0]), tuple(_text(name) for name in pair[1])


def _texts(raw: Any, number: int) -> list[str]:
    return [_text(t) for t in raw] if isinstance(raw, list) and len(raw) == number else [""] * number


def _text(raw: Any) -> str:
    return raw if isinstance(raw, str) else ""
