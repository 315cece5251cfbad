"""Whatever a file holds, the answer is a record or its faults: never another exception or an unprintable message."""

import copy
import json
import tomllib
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, given, settings

from stripdown.record import Record, Rejected, canonical, parse, read_all, read_text

from .made import EXAMPLE, as_tables, good
from .made_tables import write_csv, write_workbook

WORDS = st.sampled_from(
    [
        "",
        " ",
        "open",
        "none",
        "heavy",
        "crank",
        "oil",
        "U-V",
        "psia",
        "\x00",
        "\u202e",
        "\ud800",
        "=1+1",
        "../..",
        "{{7*7}}",
    ]
)
LEAVES = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.just(10**400)
    | st.floats()
    | st.text(st.characters(), max_size=20)
    | WORDS
    | st.dates()
    | st.datetimes()
    | st.times()
)
VALUES = st.recursive(LEAVES, lambda v: st.lists(v, max_size=3) | st.dictionaries(st.text(max_size=8), v, max_size=3))


def check(result: object) -> None:
    """A record whose content can be written as UTF-8, or faults that can be shown."""
    if isinstance(result, Record):
        assert canonical(result).encode()
        return
    assert isinstance(result, Rejected)
    assert result.faults
    assert all(str(f).isprintable() for f in result.faults)
    assert json.dumps(result.as_json(), ensure_ascii=False).encode()


@given(VALUES)
@settings(max_examples=200, deadline=None)
def test_any_value_in_place_of_a_record(raw: Any) -> None:
    check(parse(raw, file="r.json", folder="."))


def places(node: Any, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The way to every value of a nested structure."""
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [way, *(place for key, value in inner for place in places(value, (*way, key)))]


FULL = tomllib.loads(EXAMPLE)
PLACES = places(FULL)[1:]


@given(st.lists(st.tuples(st.sampled_from(PLACES), VALUES), min_size=1, max_size=3))
@settings(max_examples=400, deadline=None)
def test_any_value_at_any_place_of_a_good_record(changes: list[tuple[tuple[Any, ...], Any]]) -> None:
    raw = copy.deepcopy(FULL)
    for way, value in changes:
        node = raw
        try:
            for step in way[:-1]:
                node = node[step]
            node[way[-1]] = value
        except (TypeError, KeyError, IndexError):
            continue  # an earlier change took the place away
    check(parse(raw, file="r.toml", folder="."))


@given(st.sampled_from(PLACES), st.text(max_size=10), VALUES)
@settings(max_examples=100, deadline=None)
def test_any_key_beside_the_known_ones(way: tuple[Any, ...], key: str, value: Any) -> None:
    raw = copy.deepcopy(FULL)
    node: Any = raw
    for step in way:
        node = node[step]
    if isinstance(node, dict):
        node[key] = value
    check(parse(raw, file="r.toml", folder="."))


@pytest.fixture(scope="module")
def seeds(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("seeds")
    sheets = as_tables(FULL)
    return {
        "r.toml": EXAMPLE.encode(),
        "r.json": json.dumps(good()).encode(),
        "r.jsonl": (json.dumps(good()) + "\n").encode() * 2,
        "returns.csv": (write_csv(folder / "t", sheets) / "returns.csv").read_bytes(),
        "r.xlsx": write_workbook(folder / "r.xlsx", sheets).read_bytes(),
    }


@given(
    st.sampled_from(["r.toml", "r.json", "r.jsonl", "returns.csv", "r.xlsx"]),
    st.lists(st.tuples(st.floats(0, 1), st.binary(max_size=4), st.integers(0, 40)), max_size=3),
)
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_bytes_of_a_good_file_overwritten(
    tmp_path: Path, seeds: dict[str, bytes], name: str, changes: list[tuple[float, bytes, int]]
) -> None:
    data = seeds[name]
    for where, new, cut in changes:
        at = int(where * len(data))
        data = data[:at] + new + data[at + cut :]
    path = tmp_path / name
    path.write_bytes(data)
    for result in read_all([path]):
        check(result)


@given(st.sampled_from(["r.toml", "r.json", "r.jsonl", "returns.csv", "r.xlsx"]), st.binary(max_size=200))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_under_any_name(tmp_path: Path, name: str, data: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    results = read_all([path])
    assert results
    for result in results:
        check(result)
    for result in read_text(data):
        check(result)
