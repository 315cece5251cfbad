"""A claim's folder appears whole or not at all, and never takes away what others put there."""

from pathlib import Path

import pytest

from stripdown.batch.folder import clear_up, put, whole


def _write_then_fail(folder: Path) -> None:
    (folder / "page.html").write_text("torn")
    raise FileNotFoundError


def test_the_folder_is_there_once_it_is_full(tmp_path: Path) -> None:
    target = tmp_path / "NB-1"
    with whole(target) as fresh:
        (fresh / "page.html").write_text("new")
        assert not target.exists()
    assert [f.name for f in target.iterdir()] == ["page.html"]
    assert [f.name for f in tmp_path.iterdir()] == ["NB-1"]


def test_a_failure_leaves_the_old_folder(tmp_path: Path) -> None:
    target = tmp_path / "NB-1"
    target.mkdir()
    (target / "page.html").write_text("old")
    with pytest.raises(FileNotFoundError), whole(target) as fresh:
        _write_then_fail(fresh)
    assert (target / "page.html").read_text() == "old"
    assert [f.name for f in tmp_path.iterdir()] == ["NB-1"]


def test_other_files_of_the_folder_stay(tmp_path: Path) -> None:
    target = tmp_path / "NB-1"
    target.mkdir()
    (target / "page.html").write_text("old")
    (target / "lesson.html").write_text("lesson")
    with whole(target) as fresh:
        (fresh / "page.html").write_text("new")
    assert {f.name: f.read_text() for f in target.iterdir()} == {"page.html": "new", "lesson.html": "lesson"}


def test_a_link_is_replaced_and_never_followed(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    out = tmp_path / "out"
    out.mkdir()
    (out / "NB-1").symlink_to(elsewhere)
    with whole(out / "NB-1") as fresh:
        (fresh / "page.html").write_text("new")
    assert list(elsewhere.iterdir()) == []
    assert (out / "NB-1" / "page.html").read_text() == "new"


def test_a_file_in_the_place_of_the_folder_stays(tmp_path: Path) -> None:
    (tmp_path / "NB-1").write_text("mine")
    with pytest.raises(FileExistsError, match="NB-1 is a file"), whole(tmp_path / "NB-1"):
        raise AssertionError("never begun")
    assert (tmp_path / "NB-1").read_text() == "mine"
    assert [f.name for f in tmp_path.iterdir()] == ["NB-1"]


def test_a_file_is_whole_or_the_old_one(tmp_path: Path) -> None:
    put(tmp_path / "index.html", "old\n")
    with pytest.raises(UnicodeEncodeError):
        put(tmp_path / "index.html", "new \ud800")
    assert (tmp_path / "index.html").read_bytes() == b"old\n"
    assert [f.name for f in tmp_path.iterdir()] == ["index.html"]
    (tmp_path / ".stripdown-new-index.html").write_text("ha")  # killed in the middle
    clear_up(tmp_path)
    assert [f.name for f in tmp_path.iterdir()] == ["index.html"]


def test_clear_up_leaves_what_is_not_its_own(tmp_path: Path) -> None:
    for name in (".new-thing", ".old-thing"):
        (tmp_path / name).mkdir()
    clear_up(tmp_path)
    assert sorted(f.name for f in tmp_path.iterdir()) == [".new-thing", ".old-thing"]


def test_clear_up_ends_what_a_killed_run_began(tmp_path: Path) -> None:
    (tmp_path / ".stripdown-new-abc" / "NB-1").mkdir(parents=True)
    (tmp_path / ".stripdown-old-NB-2").mkdir()  # killed between the two renames: the old one comes back
    (tmp_path / ".stripdown-old-NB-2" / "page.html").write_text("old")
    (tmp_path / "NB-3").mkdir()  # killed after both: the notes are still to be handed over
    (tmp_path / "NB-3" / "page.html").write_text("new")
    (tmp_path / ".stripdown-old-NB-3").mkdir()
    (tmp_path / ".stripdown-old-NB-3" / "page.html").write_text("old")
    (tmp_path / ".stripdown-old-NB-3" / "notes.txt").write_text("mine")
    clear_up(tmp_path)
    assert sorted(str(f.relative_to(tmp_path)) for f in tmp_path.rglob("*") if f.is_file()) == [
        "NB-2/page.html",
        "NB-3/notes.txt",
        "NB-3/page.html",
    ]
    assert (tmp_path / "NB-3" / "page.html").read_text() == "new"
