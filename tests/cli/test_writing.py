"""The single file of a command: whole or not at all, and nothing that is no file is replaced."""

import os
from pathlib import Path

import pytest

from stripdown.cli.writing import write_whole


def test_a_file_is_replaced_as_a_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"old and longer")
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_written_to_and_never_replaced(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    reader = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_whole(path, b"new")
        assert os.read(reader, 100) == b"new"
    finally:
        os.close(reader)
    assert path.is_fifo()
