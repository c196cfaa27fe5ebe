"""Disks for the tests: a small one that is filled up. Mounting one needs root."""

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.system import end


@contextmanager
def small(folder: Path, ballast: int = 100_000) -> Iterator[Path]:
    """A disk of a megabyte at ``folder``, of which a file ``ballast`` takes some, to be deleted
    when there is to be room again. Ends the calling test where it may not be mounted.
    """
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)]
    done = subprocess.run(mount, capture_output=True, text=True, check=False) if root() else None
    if done is None or done.returncode:
        end(f"a disk cannot be mounted ({done.stderr.strip() if done else 'it needs root'})")
    try:
        (folder / "ballast").write_bytes(b"\0" * ballast)
        yield folder
    finally:
        # Lazily: what a failing test has left open must not keep the disk.
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def root() -> bool:
    """Whether this is root, on a system that has one."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def fill(folder: Path) -> None:
    """Take all the room that is left."""
    with (folder / "filler").open("wb", buffering=0) as out:
        for size in (65_536, 4_096, 1):
            try:
                while True:
                    out.write(b"\0" * size)
            except OSError:
                continue
