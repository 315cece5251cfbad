"""`index.csv`: every column of the index, and faults as they are told elsewhere."""

import csv
import io

from stripdown.batch.index import as_csv
from tests.pages import cases


def _table(*rows: dict[str, object]) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(as_csv(rows))))


def test_who_signed_stands_as_in_the_index() -> None:
    done = cases.floodback().as_json(brief=True) | {"state": "done"}
    signed = [
        [],
        [{"by": "analyst 1"}, {"by": "analyst 2"}],
        [{"first": "floodback"}],
    ]
    told = [row["signed_by"] for row in _table(*(done | {"confirmed": each} for each in signed))]
    assert told == ["", "analyst 2", "not named"]


def test_a_fault_says_what_is_wrong_and_what_would_be_right() -> None:
    faults = [
        {"file": "a.toml", "entry": "", "what": "is not TOML: line 2", "fix": "mend that place"},
        {
            "file": "a.toml",
            "entry": "observations[1].part",
            "what": '"rod" is not known here',
            "fix": "did you mean x?",
        },
    ]
    (row,) = _table({"claim": None, "file": "a.toml", "state": "rejected", "status": "rejected", "faults": faults})
    assert row["faults"] == (
        'is not TOML: line 2; mend that place | observations[1].part: "rod" is not known here; did you mean x?'
    )
