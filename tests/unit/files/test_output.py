"""Writing: whole or not at all, with the user's usual permissions."""

import os
import stat
from pathlib import Path

import pytest

from trajplan.errors import OutputError
from trajplan.files import write_bytes_atomic, write_text_atomic


def names(folder):
    return [path.name for path in folder.iterdir()]


def test_text_is_written_as_it_is(tmp_path):
    write_text_atomic(tmp_path / "a.txt", "ü\r\nb\n")
    assert (tmp_path / "a.txt").read_bytes() == "ü\r\nb\n".encode()
    assert names(tmp_path) == ["a.txt"]


def test_an_earlier_file_is_replaced(tmp_path):
    path = tmp_path / "a.bin"
    write_bytes_atomic(path, b"long before")
    write_bytes_atomic(path, b"now")
    assert path.read_bytes() == b"now"


def test_permissions_follow_the_umask(tmp_path):
    before = os.umask(0o027)
    try:
        write_bytes_atomic(tmp_path / "a", b"")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640


def test_places_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_text("x")
    for path, word in [
        (tmp_path / "none" / "a", "does not exist"),
        (tmp_path / "file" / "a", "not a folder"),
        (tmp_path, "this is a folder"),
    ]:
        with pytest.raises(OutputError, match=word) as caught:
            write_bytes_atomic(path, b"x")
        assert caught.value.file == str(path)
        assert caught.value.remedy
    assert (tmp_path / "file").read_text() == "x"
    assert names(tmp_path) == ["file"]


def test_a_failure_half_way_leaves_the_earlier_file(tmp_path, monkeypatch):
    write_bytes_atomic(tmp_path / "a", b"before")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OutputError, match="No space left on device"):
        write_bytes_atomic(tmp_path / "a", b"after")
    assert (tmp_path / "a").read_bytes() == b"before"
    assert names(tmp_path) == ["a"]
