"""Files are written whole or not at all, and read whole or refused."""

import errno
import os
import stat
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from holdlog.core import whole_files
from holdlog.core.errors import BadFile, Fault, Mistake

needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="links, pipes, modes are POSIX")


class Stopped(BaseException):
    """Stands for whatever ends a program in the middle."""


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), Stopped()])
def test_a_file_that_could_not_be_finished_is_as_it_was(
    tmp_path: Path, error: BaseException
) -> None:
    file = tmp_path / "june.csv"
    file.write_text("of May")

    def begin_over(other: Path) -> None:
        with whole_files.writing_text(other) as out:
            out.write("half of June")
            assert file.read_text() == "of May"
            raise error

    for each in (file, tmp_path / "new.csv"):
        with pytest.raises((Fault, Stopped)):
            begin_over(each)
    assert file.read_text() == "of May"
    assert names(tmp_path) == ["june.csv"]


@needs_posix
def test_a_link_stays_a_link_and_a_file_keeps_who_may_read_it(tmp_path: Path) -> None:
    file, link = tmp_path / "june.pdf", tmp_path / "latest.pdf"
    file.write_bytes(b"old")
    file.chmod(0o640)
    link.symlink_to(file)
    whole_files.write(link, b"new")
    assert link.is_symlink()
    assert file.read_bytes() == b"new"
    assert stat.S_IMODE(file.stat().st_mode) == 0o640


@needs_posix
def test_a_pipe_is_written_to_and_stays_one(tmp_path: Path) -> None:
    """A file put in the place of a device would be the end of the device, for everybody."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    with whole_files.writing_text(pipe) as out:
        out.write("°F")
    assert os.read(reader, 100) == "°F".encode()
    os.close(reader)
    assert pipe.is_fifo()


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("missing/june.csv", "there is no folder"),
        ("folder", "it is a folder"),
        ("file/june.csv", "is no folder"),
        ("x" * 300, "its name is too long"),
        ("june\0.csv", "no file can have this name"),
    ],
)
def test_where_no_file_can_be_it_says_why(tmp_path: Path, name: str, says: str) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").touch()
    with pytest.raises(Fault) as told:
        whole_files.write(tmp_path / name, b"")
    assert says in told.value.sentence
    assert told.value.hint
    assert names(tmp_path) == ["file", "folder"]


@needs_posix
def test_a_link_that_leads_nowhere_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "house.toml").symlink_to(tmp_path / "gone.toml")
    with pytest.raises(Mistake, match="is there already"):
        whole_files.write_new(tmp_path / "house.toml", b"")


@pytest.mark.parametrize("links", [True, False])
def test_a_file_of_its_own_takes_a_free_name_and_is_never_seen_by_halves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """Also on a disk that has no links (FAT), and where the program is stopped in the middle."""

    def no_link(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    if not links:
        monkeypatch.setattr(os, "link", no_link)
    (tmp_path / "H7K39QX7.png").write_bytes(b"of Monday")
    if sys.platform != "win32":
        (tmp_path / "H7K39QX7_2.png").symlink_to(tmp_path / "gone.png")
    before = names(tmp_path)
    file = whole_files.write_free(tmp_path, "H7K39QX7", ".png", b"of Tuesday")
    assert file.read_bytes() == b"of Tuesday"
    assert names(tmp_path) == sorted([*before, file.name])
    assert (tmp_path / "H7K39QX7.png").read_bytes() == b"of Monday"

    def stop(_: int) -> None:
        assert [name for name in names(tmp_path) if not name.startswith(".")] == sorted(
            [*before, file.name]
        )
        raise Stopped

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(Stopped):
        whole_files.write_free(tmp_path, "H7K39QX7", ".png", b"of Wednesday")
    assert names(tmp_path) == sorted([*before, file.name])


@pytest.mark.parametrize(
    "change",
    [
        lambda file: file.write_bytes(b"shorter"),
        lambda file: file.write_bytes(b"the readings of a day and of the next"),
        lambda file: os.utime(file, ns=(1, 1)),
    ],
    ids=["cut", "grown", "written over"],
)
def test_a_file_that_somebody_writes_to_meanwhile_is_not_half_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, change: Callable[[Path], object]
) -> None:
    file = tmp_path / "logger.csv"
    file.write_bytes(b"the readings of a day")
    stat_of = os.fstat
    asked: list[int] = []

    def fstat(handle: int) -> os.stat_result:
        # Opening looks once; the second look is the one before the reading.
        found = stat_of(handle)
        asked.append(handle)
        if len(asked) == 2:
            change(file)
        return found

    monkeypatch.setattr(os, "fstat", fstat)
    with pytest.raises(Fault) as told:
        whole_files.read(file)
    assert told.value.code == "file-changed"
    assert "Nothing was recorded" in told.value.hint


def test_what_cannot_be_read_is_told_in_words(tmp_path: Path) -> None:
    for name, says in (("none", "there is no such file"), ("", "it is a folder")):
        with pytest.raises(Mistake) as told:
            whole_files.read(tmp_path / name, "Name a file.")
        assert says in told.value.sentence
        assert told.value.hint == "Name a file."
    (tmp_path / "long").write_bytes(b"x" * 20)
    with pytest.raises(BadFile):
        whole_files.read(tmp_path / "long", most=10)
    (tmp_path / "binary").write_bytes(b"\xff\xfe")
    with pytest.raises(BadFile, match="is not text: one code a line"):
        whole_files.read_text(tmp_path / "binary", "one code a line")
