"""Small file systems that tests fill, make read-only, and take away. They need leave to mount; CI runs as root."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


def _mount(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["mount", *arguments], capture_output=True, text=True)


class Disk:
    """A file system of its own, mounted at ``at``."""

    def __init__(self, at: Path, megabytes: float) -> None:
        self.at = at
        done = _mount("-t", "tmpfs", "-o", f"size={round(megabytes * 1024)}k", "tmpfs", str(at))
        if done.returncode:
            pytest.skip(f"a small disk cannot be mounted here: {done.stderr.strip()}")

    def fill(self, leave_bytes: int = 0) -> None:
        """Write a file that leaves so much room and no more."""
        with (self.at / "ballast").open("wb") as ballast:
            room = os.statvfs(self.at)
            ballast.write(bytes(max(0, room.f_bavail * room.f_frsize - leave_bytes)))
        room = os.statvfs(self.at)
        assert room.f_bavail * room.f_frsize <= leave_bytes

    def make_room(self) -> None:
        (self.at / "ballast").unlink()

    def only_for_reading(self) -> None:
        done = _mount("-o", "remount,ro", str(self.at))
        assert done.returncode == 0, done.stderr

    def for_writing(self) -> None:
        done = _mount("-o", "remount,rw", str(self.at))
        assert done.returncode == 0, done.stderr

    def vanish(self) -> None:
        """Go away at once, whoever is using it, as a network share does."""
        subprocess.run(["umount", "--lazy", str(self.at)], check=True, capture_output=True)


@contextmanager
def small_disk(at: Path, megabytes: float) -> Iterator[Disk]:
    at.mkdir(parents=True, exist_ok=True)
    disk = Disk(at, megabytes)
    try:
        yield disk
    finally:
        subprocess.run(["umount", "--lazy", str(at)], capture_output=True)
