"""Files appear whole or not at all, written at once or bit by bit; what cannot be written is told in one line."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from faults import fault_of, refusing
from sim.errors import InputError
from sim.world.files.writing import streamed_file, write_text

Writer = Callable[[str | Path, str], None]


def write_bit_by_bit(path: str | Path, text: str) -> None:
    with streamed_file(path) as file:
        for character in text:
            file.write(character)


@pytest.fixture(params=[write_text, write_bit_by_bit])
def write(request: pytest.FixtureRequest) -> Writer:
    """Both ways to write a file."""
    found: Writer = request.param
    return found


def test_write_makes_a_file_and_nothing_else(write: Writer, tmp_path: Path) -> None:
    path = tmp_path / "kiln.plan"
    old = os.umask(0o027)
    try:
        write(path, "Öfen\n")
    finally:
        os.umask(old)
    assert path.read_bytes() == "Öfen\n".encode()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert os.listdir(tmp_path) == ["kiln.plan"]


def test_write_replaces_a_file_and_keeps_its_mode(write: Writer, tmp_path: Path) -> None:
    path = tmp_path / "kiln.plan"
    path.write_text("old and longer than the new")
    path.chmod(0o604)
    other = tmp_path / "other name"
    os.link(path, other)
    write(path, "new")
    assert path.read_text() == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o604
    assert other.read_text() == "old and longer than the new", "a new file took the name; the old was not written to"


def test_write_follows_a_link(write: Writer, tmp_path: Path) -> None:
    (tmp_path / "real").write_text("old")
    (tmp_path / "link").symlink_to("real")
    write(tmp_path / "link", "new")
    assert (tmp_path / "real").read_text() == "new"
    assert (tmp_path / "link").is_symlink()


def test_write_takes_a_name_without_a_folder(write: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("n" * 255, "窯" * 85):  # 255 bytes, the most that a name may have
        write(name, "new")
        assert (tmp_path / name).read_text() == "new"


def test_a_device_is_not_replaced(tmp_path: Path) -> None:
    fifo = tmp_path / "fifo"
    os.mkfifo(fifo)
    reading = os.open(fifo, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_text(fifo, "new")
        with pytest.raises(InputError, match="is no regular file; name another"), streamed_file(fifo):
            pass
        assert os.read(reading, 100) == b"new"
    finally:
        os.close(reading)
    assert stat.S_ISFIFO(fifo.stat().st_mode)


def test_a_streamed_file_appears_at_the_end_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "kiln.vcd"
    with streamed_file(path) as file:
        file.write("new")
        file.flush()
        assert not path.exists()
    assert path.read_text() == "new"
    with pytest.raises(ZeroDivisionError), streamed_file(path) as file:
        file.write(str(1 / 0))
    assert path.read_text() == "new"
    assert os.listdir(tmp_path) == ["kiln.vcd"]


# --- files that cannot be written


def test_no_place_to_write(write: Writer, tmp_path: Path) -> None:
    gone = tmp_path / "gone" / "kiln.json"
    assert fault_of(lambda: write(gone, "x")) == f"{gone}: cannot be written: its folder does not exist"
    assert fault_of(lambda: write(tmp_path, "x")) == f"{tmp_path}: is a folder; name a file in it"
    assert fault_of(lambda: write("a\0b", "x")) == "a\\u0000b: is no name of a file"
    assert fault_of(lambda: write("\ud800", "x")) == "\\ud800: is no name of a file"
    (tmp_path / "file").touch()
    below = tmp_path / "file" / "kiln.json"
    assert fault_of(lambda: write(below, "x")) == f"{below}: cannot be written (Not a directory)"
    long = tmp_path / ("n" * 256)
    assert fault_of(lambda: write(long, "x")) == f"{long}: cannot be written (File name too long)"
    (tmp_path / "loop").symlink_to("loop")
    told = f"{tmp_path}/loop: cannot be written (Too many levels of symbolic links)"
    assert fault_of(lambda: write(tmp_path / "loop", "x")) == told
    assert sorted(os.listdir(tmp_path)) == ["file", "loop"]


def test_half_a_character_is_not_written(write: Writer, tmp_path: Path) -> None:
    path = tmp_path / "kiln.json"
    path.write_text("old")
    assert "half a character" in fault_of(lambda: write(path, "\ud800"))
    assert path.read_text() == "old"


def test_a_folder_that_may_not_be_written_to(write: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "kiln.json"
    path.write_text("old")
    tmp_path.chmod(0o500)
    if os.access(tmp_path, os.W_OK):  # the superuser may write anywhere
        monkeypatch.setattr(os, "open", refusing(errno.EACCES))
    try:
        assert fault_of(lambda: write(path, "new")) == f"{path}: cannot be written (Permission denied)"
    finally:
        tmp_path.chmod(0o700)
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["kiln.json"]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_failure_half_way_leaves_the_old_file(
    write: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    path = tmp_path / "kiln.json"
    path.write_text("old")
    with monkeypatch.context() as patch:
        patch.setattr(os, step, refusing(errno.EIO))
        assert fault_of(lambda: write(path, "new")) == f"{path}: cannot be written (Input/output error)"
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["kiln.json"]


def test_an_interrupted_write_leaves_the_old_file(
    write: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "kiln.json"
    path.write_text("old")

    def interrupt(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write(path, "new")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["kiln.json"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_device() -> None:
    assert fault_of(lambda: write_text("/dev/full", "x")) == "/dev/full: cannot be written (No space left on device)"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 KB, where this user may mount one."""
    folder = tmp_path / "small"
    folder.mkdir()
    try:
        command = ["mount", "-t", "tmpfs", "-o", "size=64k", "none", str(folder)]
        mounted = subprocess.run(command, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        mounted = False
    if not mounted:
        pytest.skip("this user cannot mount a file system")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_leaves_the_old_file(write: Writer, small_disk: Path) -> None:
    path = small_disk / "kiln.json"
    write(path, "old")
    assert fault_of(lambda: write(path, "new" * 100_000)) == f"{path}: cannot be written (No space left on device)"
    assert path.read_text() == "old"
    assert os.listdir(small_disk) == ["kiln.json"]
