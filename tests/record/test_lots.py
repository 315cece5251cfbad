"""Large files of JSON lines, read lot by lot, hold what they hold when read as a whole."""

import json
import tomllib
from pathlib import Path

import pytest

from stripdown.record import Lots, lots, read_all
from tests.small_record import small_record


def lines(number: int) -> list[str]:
    return [json.dumps(tomllib.loads(small_record(f"C-{i:03d}"))) for i in range(number)]


@pytest.mark.parametrize("size", [1, 3, 100])
def test_lot_by_lot_as_whole(tmp_path: Path, size: int) -> None:
    """Blank lines, broken ones, lines that are no record, other encodings, and claims that stand twice, far apart."""
    some = lines(20)
    some[3:3] = ["", "{broken", '{"claim": "C-001"}', "[1, 2]", '{"format": 1, "claim": "c-019"}']
    some[11] = some[0]
    data = "\n".join(some).encode() + b'\n{"format": 1, "claim": "\xff"}\n' + some[5].encode("utf-16")
    path = tmp_path / "many.jsonl"
    path.write_bytes(data)
    whole = read_all([path])
    assert [x for lot in Lots(path, size) for x in lot.read()] == whole
    assert {r.claim for r in whole if "stands again" in str(r)} >= {"C-000"}


def test_a_line_longer_than_a_record_can_be_is_told_and_the_rest_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "many.jsonl"
    path.write_text(lines(1)[0] + "\n" + "x" * 5_000_001 + "\n" + lines(2)[1])
    whole = read_all([path])
    assert [x for lot in Lots(path, 2) for x in lot.read()] == whole
    assert len(whole) == 3


def test_a_file_of_blank_lines_says_so(tmp_path: Path) -> None:
    path = tmp_path / "many.jsonl"
    path.write_text("\n \n")
    assert Lots(path, 2).empty
    path.write_text("\n{broken\n")
    assert not Lots(path, 2).empty


def test_only_large_files_of_json_lines_are_read_so(tmp_path: Path) -> None:
    small, large, other = tmp_path / "a.jsonl", tmp_path / "b.jsonl", tmp_path / "b.json"
    small.write_text(lines(1)[0])
    for path in (large, other):
        path.write_bytes(b" " * lots.LARGE)
    assert [Lots.serve(p) for p in (small, large, other, tmp_path, tmp_path / "none.jsonl", "-")] == [False, True] + [
        False
    ] * 4
