"""Working files: whose name they take, and what killed programs leave."""

import errno
import os
import signal
import stat
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

from holdlog.core import parts, whole_files
from holdlog.core.errors import Mistake

needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL and fsync of folders")


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_somebody_makes_meanwhile_is_never_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """It comes at the last moment, after every look; also on a disk that has no links (FAT)."""
    link = os.link

    def late(part: Path, file: Path) -> None:
        if "house" in Path(file).name and not Path(file).exists():
            Path(file).write_bytes(b"somebody else's")
        if not links:
            raise OSError(errno.EPERM, "Operation not permitted")
        link(part, file)

    monkeypatch.setattr(os, "link", late)
    with pytest.raises(Mistake) as caught:
        whole_files.write_new(tmp_path / "house.toml", b"ours")
    assert caught.value.code == "file-exists"
    assert "is there already; it is left as it is" in caught.value.line()
    assert (tmp_path / "house.toml").read_bytes() == b"somebody else's"
    whole_files.write_new(tmp_path / "other.toml", b"ours")
    assert (tmp_path / "other.toml").read_bytes() == b"ours"
    assert names(tmp_path) == ["house.toml", "other.toml"]


def test_a_link_that_was_made_and_not_answered_for_is_our_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server of files may do as asked and lose its answer (open(2), O_EXCL, on NFS)."""
    link = os.link

    def asked_twice(part: Path, file: Path) -> None:
        link(part, file)
        link(part, file)

    monkeypatch.setattr(os, "link", asked_twice)
    whole_files.write_new(tmp_path / "house.toml", b"ours")
    assert (tmp_path / "house.toml").read_bytes() == b"ours"
    assert names(tmp_path) == ["house.toml"]


KILLED = """
import pathlib, sys
from holdlog.core.whole_files import writing
with writing(pathlib.Path(sys.argv[1])) as out:
    out.write(b"half of it")
    out.flush()
    print("written", flush=True)
    sys.stdin.read()
"""


@needs_posix
def test_what_a_killed_program_left_goes_with_the_next_write_of_that_file_a_day_later(
    tmp_path: Path,
) -> None:
    file = tmp_path / "june.csv"
    file.write_text("of May")
    with subprocess.Popen(
        [sys.executable, "-c", KILLED, str(file)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as program:
        assert program.stdout is not None
        program.stdout.readline()
        program.send_signal(signal.SIGKILL)
    (part,) = [name for name in names(tmp_path) if name != "june.csv"]
    assert parts.left(tmp_path, (tmp_path / part).stat().st_mtime + 1) == [tmp_path / part]
    # Another program may be at work on it yet.
    whole_files.write(file, b"of June")
    assert names(tmp_path) == [part, "june.csv"]
    _aged(tmp_path / part, 23)
    whole_files.write(file, b"of June")
    assert names(tmp_path) == [part, "june.csv"]
    _aged(tmp_path / part, 25)
    whole_files.write(tmp_path / "july.csv", b"")
    assert part in names(tmp_path)
    whole_files.write(file, b"of June, again")
    assert names(tmp_path) == ["july.csv", "june.csv"]
    assert file.read_text() == "of June, again"


def test_only_what_holdlog_named_for_this_very_file_is_swept(tmp_path: Path) -> None:
    mine = (".new.db.71-0a1b.part", ".new.db.71-0a1b.part-journal", ".new.db.9.part")
    # One whose log was written to lately is at work, however old the file itself is.
    at_work = (".new.db.72-0a1b.part", ".new.db.72-0a1b.part-wal")
    others = ("new.db.part", ".new.db.part", ".new.db.old.71-0a1b.part", ".old.db.71-0a1b.part")
    for name in (*mine, *at_work, *others):
        (tmp_path / name).write_text("cut short")
        if name != at_work[1]:
            _aged(tmp_path / name, 48)
    whole_files.write(tmp_path / "new.db", b"")
    assert names(tmp_path) == sorted([*at_work, *others, "new.db"])


@needs_posix
def test_what_was_left_of_a_file_whose_name_is_no_text_goes_too(tmp_path: Path) -> None:
    file = tmp_path / os.fsdecode(b"\xff\xfe")
    try:
        file.touch()
    except OSError:
        pytest.skip("a disk that takes only text as names")
    with parts.working(file, lambda part: parts.take_name(part, file)) as part:
        part.write_bytes(b"whole")
        left = part.with_name(part.name.replace(parts.PART, f"0{parts.PART}"))
        left.write_bytes(b"half")
        _aged(left, 25)
    whole_files.write(file, b"again")
    assert names(tmp_path) == [file.name]


@needs_posix
def test_a_name_that_has_to_last_is_taken_back_where_the_folder_cannot_be_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fsync = os.fsync

    def no_folders(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        fsync(handle)

    file = tmp_path / "copy.db"

    def write(*, lasting: bool) -> None:
        take = partial(parts.take_new_name, file=file)
        with parts.working(file, take, lasting=lasting) as part:
            part.write_bytes(b"whole")

    monkeypatch.setattr(os, "fsync", no_folders)
    with pytest.raises(OSError, match="Input/output"):
        write(lasting=True)
    assert names(tmp_path) == []
    write(lasting=False)
    assert names(tmp_path) == ["copy.db"]


def _aged(path: Path, hours: float) -> None:
    changed = path.stat().st_mtime - hours * 3600
    os.utime(path, (changed, changed))
