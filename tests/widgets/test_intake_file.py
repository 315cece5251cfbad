"""Under which name the bench workbook saves a record that it took up from another form, and its photos."""

import json
from pathlib import Path

import pytest

from stripdown.record import read
from stripdown.widgets.intake import Intake


@pytest.mark.parametrize(
    ("claim", "name"),
    [("NB-1", "NB-1.toml"), ("AUX", "AUX+.toml"), ("nul.2026", "nul+.2026.toml"), ("A.", "A.+.toml")],
)
def test_the_file_has_a_name_that_every_system_takes(tmp_path: Path, claim: str, name: str) -> None:
    """As the folder of a claim has (tests/record/test_names.py); taken up again, it is that file."""
    taken = tmp_path / "returns.json"
    taken.write_text(json.dumps({"format": 1, "claim": claim, "unit": {"serial": "1", "model": "K4-150"}}))
    for site in ("north shed", "south shed"):
        intake = Intake.open(taken, claim)
        intake.field("history", "site", site)
        assert intake.unsaved is None
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([name, taken.name])
    record = read(tmp_path / name)
    assert (record.claim, record.history.site) == (claim, "south shed")
