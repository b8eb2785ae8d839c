"""One file written whole: with the rights that files have here, through links, and never in the place of a device."""

import os
from pathlib import Path

import pytest

from fourlimb.lesson import write_file
from fourlimb.model import LessonError

POSIX = pytest.mark.skipif(os.name == "nt", reason="rights and links of Unix")


@POSIX
def test_a_new_file_may_be_read_as_others_here(tmp_path: Path) -> None:
    beside = tmp_path / "beside"
    beside.write_bytes(b"")
    write_file(tmp_path / "new.json", b"{}")
    assert (tmp_path / "new.json").stat().st_mode == beside.stat().st_mode


@POSIX
def test_a_file_keeps_its_rights(tmp_path: Path) -> None:
    path = tmp_path / "old.json"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_file(path, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640


@POSIX
def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "there").write_bytes(b"old")
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "there")
    write_file(link, b"new")
    assert link.is_symlink()
    assert (tmp_path / "there").read_bytes() == b"new"


@POSIX
def test_a_pipe_is_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(LessonError, match="no file that can be replaced"):
        write_file(pipe, b"new")
    assert pipe.is_fifo()
    assert [path.name for path in tmp_path.iterdir()] == ["pipe"]
