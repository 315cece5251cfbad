"""Paths: folders in the order of names, what is passed over, what cannot be read, claims that stand twice."""

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from stripdown.record import (
    Fault,
    Record,
    RecordError,
    Rejected,
    holds_results,
    kind_of_line,
    read,
    read_all,
    read_text,
)

from .made import good
from .made_tables import write_csv, write_workbook


def put(path: Path, claim: str) -> Path:
    """A good record with this claim as `.json`."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(good() | {"claim": claim}), encoding="utf-8")
    return path


def claims(*paths: Path, **kwargs: list[Fault]) -> list[str | None]:
    return [r.claim for r in read_all(paths, passed_over=kwargs.get("passed_over"))]


def test_a_folder_is_read_with_its_subfolders_in_the_order_of_names(tmp_path: Path) -> None:
    for name in ("b.json", "a/z.json", "c/a/x.json", "c/b.json", "B.json", "a.json"):
        put(tmp_path / name, name.replace("/", ".").removesuffix(".json"))
    write_csv(tmp_path / "b2", {"returns": [{"claim": "t", "serial": "S", "model": "M"}]})
    (tmp_path / "d.jsonl").write_text("\n".join(json.dumps(good() | {"claim": c}) for c in ("l1", "l2")))
    write_workbook(tmp_path / "w.xlsx", {"returns": [{"claim": "w", "serial": "S", "model": "M"}]})
    assert claims(tmp_path) == ["B", "a.z", "a", "b", "t", "c.a.x", "c.b", "l1", "l2", "w"]


def test_paths_are_read_in_the_order_given_and_each_file_once(tmp_path: Path) -> None:
    a, b = put(tmp_path / "a.json", "A"), put(tmp_path / "b.json", "B")
    assert claims(b, tmp_path, a) == ["B", "A"]


def test_files_are_named_as_the_user_gave_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path / "in" / "a.json", "A")
    monkeypatch.chdir(tmp_path)
    (record,) = read_all(["in"])
    assert (record.file, record.folder if isinstance(record, Record) else "") == ("in/a.json", "in")


def test_what_is_no_record_is_passed_over_in_a_folder_and_named(tmp_path: Path) -> None:
    put(tmp_path / "a.json", "A")
    (tmp_path / "expected.toml").write_text("[C01]\nfirst = 1\n")
    (tmp_path / "results.jsonl").write_text('{"claim": "X", "status": "open"}\n')
    (tmp_path / "list.json").write_text("[1]")
    write_workbook(tmp_path / "other.xlsx", {"Sheet": [{"a": 1}]})
    for name in ("photo.jpg", "log.csv", "units.csv", "notes.txt", ".hidden.toml", "~$w.xlsx"):
        (tmp_path / name).write_text("x")
    (tmp_path / "linked").symlink_to(tmp_path)
    aside: list[Fault] = []
    assert claims(tmp_path, passed_over=aside) == ["A"]
    assert sorted(Path(f.file).name for f in aside) == [
        "expected.toml",
        "linked",
        "list.json",
        "other.xlsx",
        "results.jsonl",
    ]


@pytest.mark.parametrize(
    ("name", "text", "what"),
    [
        ("a.toml", "[C01]\n", "is missing: this is not a record"),
        ("a.json", "[]", "this is a list"),
        ("a.jsonl", '{"status": "open"}', "is missing: this is not a record"),
        ("a.jsonl", "\n", "is empty"),
        ("a.txt", "x", "is no kind of file that is read here"),
        ("log.csv", "time\n", "is not read on its own"),
        ("a.toml", "format = ", "is not TOML"),
        ("a.toml", 'format = 1\nformat = 1\nclaim = "a"', "is not TOML"),
        ("a.toml", "a = 1e400\nformat = 1", "is not a field"),
        ("a.toml", f"format = {'9' * 5000}", "thousands of digits"),
        ("a.json", f'{{"format": {"9" * 5000}}}', "thousands of digits"),
        ("a.json", '{"format": 1, "claim": "a", "claim": "b"}', '"claim" stands twice'),
        ("a.json", '{"format": 1', "is not JSON"),
        ("a.json", "", "is not JSON"),
        ("a.json", " \n", "is empty"),
        ("a.toml", " \n", "is empty"),
        ("a.json", "[" * 100_000, "nested too deep"),
        ("a.json", '{"a":' * 100_000, "nested too deep"),
        ("a.toml", "a = " + "[" * 100_000, "nested too deep"),
        ("a.toml", "a = " + "{a=" * 100_000, "nested too deep"),
        ("a.toml", "a." * 101 + "a = 1", "nested more than a hundred deep"),
        ("a.toml", "a." * 100_000 + "a = 1", "nested more than a hundred deep"),
        ("a.toml", "[" + '"a" . ' * 100_000 + "a]", "nested more than a hundred deep"),
        ("a.toml", "# " + "x" * 5_000_000, "larger than 5 MB"),
        ("a.json", " " * 5_000_001, "larger than 5 MB"),
        ("a.jsonl", " " * 5_000_001 + "{}", "larger than 5 MB"),
    ],
)
def test_a_file_given_directly_must_hold_a_record(tmp_path: Path, name: str, text: str, what: str) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(RecordError) as caught:
        read(tmp_path / name)
    assert any(what in f.what for f in caught.value.faults), caught.value


@pytest.mark.parametrize(
    ("data", "what"),
    [
        ("site = 'Kühlhaus'".encode("cp1252"), "is not UTF-8: byte 0xFC in line 1"),
        ("format = 1".encode("utf-16"), "is UTF-16, not UTF-8"),
        ("format = 1".encode("utf-32"), "is UTF-32, not UTF-8"),
        ("format = 1".encode("utf-16-le"), "it holds zero bytes, as UTF-16 does"),
        ("format = 1".encode("utf-16-be"), "is not TOML"),
        (b"\x00" * 100, "is not TOML"),
    ],
)
def test_another_encoding_is_one_clear_fault(tmp_path: Path, data: bytes, what: str) -> None:
    (tmp_path / "a.toml").write_bytes(data)
    (result,) = read_all([tmp_path / "a.toml"])
    assert isinstance(result, Rejected)
    assert [what in f.what for f in result.faults] == [True]


def test_an_empty_file_of_a_folder_is_passed_over_and_named(tmp_path: Path) -> None:
    put(tmp_path / "a.json", "A")
    for name in ("b.json", "c.toml"):
        (tmp_path / name).write_bytes(b"")
    passed_over: list[Fault] = []
    assert claims(tmp_path, passed_over=passed_over) == ["A"]
    assert [f.what for f in passed_over] == ["passed over: is empty, which is not JSON", "passed over: is empty"]


def test_a_name_keeps_its_spaces_and_one_that_cannot_be_shown_is_a_fault(tmp_path: Path) -> None:
    """A no-break space is a usual slip in names; a line break or a direction mark would hide what a page calls it."""
    spaced = put(tmp_path / "dock\u00a07.json", "A")
    assert [r.file for r in read_all([spaced])] == [str(spaced)]
    for hidden, name in (("U+000A", "a\nb.json"), ("U+202E", "a\u202eb.json")):
        (result,) = read_all([put(tmp_path / "x" / name, "B")])
        assert isinstance(result, Rejected)
        (fault,) = result.faults
        assert fault.what == f"has {hidden} in its path, which cannot be seen"
        assert str(fault).isprintable()


def test_a_spoilt_line_is_named_by_its_number_in_the_file_alone(tmp_path: Path) -> None:
    (tmp_path / "a.jsonl").write_bytes(b'{"format": 1}\n\xff\n{bad\n')
    told = [
        f"{f.entry}: {f.what}" for r in read_all([tmp_path / "a.jsonl"]) if isinstance(r, Rejected) for f in r.faults
    ]
    assert "line 2: is not UTF-8: byte 0xFF" in told
    (bad,) = [t for t in told if t.startswith("line 3")]
    assert "line 1" not in bad
    assert "column 2" in bad


def test_what_cannot_be_opened_is_a_fault(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "empty").mkdir()
    (tmp_path / "none").mkdir()
    (tmp_path / "none" / "x.toml").write_text("a = 1")
    names = ["gone.toml", "pipe.toml", "empty", "none", "x" * 300, "a\0b", "gone\x1b[2J"]
    results = read_all([tmp_path / n for n in names])
    assert [isinstance(r, Rejected) for r in results] == [True] * len(names)
    assert all(str(f).isprintable() for r in results if isinstance(r, Rejected) for f in r.faults)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_what_may_not_be_read_is_a_fault(tmp_path: Path) -> None:
    put(tmp_path / "a.json", "A").chmod(0)
    (result,) = read_all([tmp_path])
    assert isinstance(result, Rejected)
    assert "cannot be read" in result.faults[0].what


def test_one_bad_file_never_stops_the_rest(tmp_path: Path) -> None:
    put(tmp_path / "a.json", "A")
    (tmp_path / "b.toml").write_text("format = ")
    put(tmp_path / "c.json", "C")
    assert claims(tmp_path) == ["A", None, "C"]


def test_a_doubled_claim_rejects_all_and_names_the_others(tmp_path: Path) -> None:
    a, b, c = put(tmp_path / "a.json", "NB-1"), put(tmp_path / "b.json", "nb-1"), put(tmp_path / "c.json", "NB-2")
    first, second, third = read_all([a, b, c])
    assert isinstance(third, Record)
    assert isinstance(first, Rejected)
    assert isinstance(second, Rejected)
    assert [(f.entry, f.what) for f in first.faults] == [("claim", f"NB-1 stands again: nb-1 in {b}")]
    assert [(f.entry, f.what) for f in second.faults] == [("claim", f"nb-1 stands again: NB-1 in {a}")]


def test_a_rejected_record_counts_for_its_claim_too(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text(json.dumps(good() | {"unit": {}}))
    put(tmp_path / "b.json", "NB-1")
    first, second = read_all([tmp_path])
    assert isinstance(first, Rejected)
    assert isinstance(second, Rejected)
    assert [f.entry for f in first.faults] == ["unit.serial", "unit.model", "claim"]


def test_many_of_one_claim_are_not_all_listed(tmp_path: Path) -> None:
    text = "\n".join([json.dumps(good())] * 2_000)
    results = read_text(text)
    assert len(results) == 2_000
    assert isinstance(results[0], Rejected)
    assert results[0].faults[0].what.endswith("and 1994 more")
    assert len(results[0].faults[0].what) < 300


def test_one_record_is_wanted(tmp_path: Path) -> None:
    put(tmp_path / "a.json", "A")
    put(tmp_path / "b.json", "B")
    with pytest.raises(RecordError, match="holds 2 records"):
        read(tmp_path)


def test_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    class Stdin:
        buffer = io.BytesIO(json.dumps(good()).encode())

    monkeypatch.setattr(sys, "stdin", Stdin)
    (record,) = read_all(["-"])
    assert (record.claim, record.file) == ("NB-1", "-")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", [None]),
        ("nonsense", [None]),
        (json.dumps(good(), indent=1), ["NB-1"]),
        (json.dumps(good()) + "\nbroken\n" + json.dumps(good() | {"claim": "NB-2"}), ["NB-1", None, "NB-2"]),
        ("broken\n" + json.dumps(good()), [None, "NB-1"]),
        ("\n\n" + json.dumps(good()), ["NB-1"]),
        (b"\xff\xfe{}", [None]),
        (json.dumps(good()).encode() + b"\n\xfc\n", ["NB-1", None]),
    ],
)
def test_text_whole_or_in_lines(text: str | bytes, expected: list[str | None]) -> None:
    assert [r.claim for r in read_text(text)] == expected


def test_lines_are_numbered_in_faults() -> None:
    (_, bad) = read_text(json.dumps(good()) + "\n\n" + json.dumps(good() | {"claim": "B", "unit": {}}))
    assert isinstance(bad, Rejected)
    assert [f.entry for f in bad.faults] == ["line 3: unit.serial", "line 3: unit.model"]


def test_result_lines_are_told_from_records(tmp_path: Path) -> None:
    assert kind_of_line(good()) == "record"
    assert kind_of_line({"claim": "A", "status": "open"}) == "result"
    assert kind_of_line({}) == kind_of_line([]) == "other"
    path = tmp_path / "r.jsonl"
    for text, expected in (('\n{"status": "open"}\n', True), (json.dumps(good()), False), ("", False), ("{", False)):
        path.write_text(text)
        assert holds_results(path) is expected
    assert holds_results(tmp_path) is False


def test_reading_loads_nothing_heavy() -> None:
    code = "import sys, stripdown.record; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    heavy = {"numpy", "pandas", "openpyxl", "python_calamine", "scipy", "matplotlib", "pint"}
    assert "stripdown.record.files" in loaded
    assert not heavy & set(loaded)


def test_of_many_records_the_one_with_the_claim_is_read(tmp_path: Path) -> None:
    put(tmp_path / "a.json", "A")
    put(tmp_path / "b.json", "B")
    (tmp_path / "c.json").write_text(json.dumps({"format": 1, "claim": "C"}))
    assert read(tmp_path, claim="B").claim == "B"
    with pytest.raises(RecordError, match=r"unit: is missing"):
        read(tmp_path, claim="C")
    with pytest.raises(RecordError, match="holds 0 records with the claim D; say which claim is meant"):
        read(tmp_path, claim="D")
    (tmp_path / "d.json").write_bytes(b"\xff")
    with pytest.raises(RecordError, match="is not UTF-8"):  # D may stand there
        read(tmp_path, claim="D")
    assert read(tmp_path, claim="A").claim == "A"
