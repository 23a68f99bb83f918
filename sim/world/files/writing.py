"""Text to a file, whole or not at all."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TextIO

from sim.errors import InputError
from sim.world.files.places import printable


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """Writes ``text`` as UTF-8 to ``path``, as ``streamed_file`` does, and raises InputError as that does.

    But for what is no regular file (a terminal, a pipe): that is written to as it is.
    """
    name = os.fspath(path)
    if _is_special(name):
        with _told_of(name):
            Path(name).write_text(text, encoding="utf-8", newline="\n")
    else:
        with streamed_file(name) as file:
            file.write(text)


@contextmanager
def streamed_file(path: str | os.PathLike[str]) -> Iterator[TextIO]:
    """A text file to write to while entered; it takes the name ``path`` when left without an exception.

    Until then it is a temporary file beside it, opened at once, so that a path that cannot be written is told before
    the work starts. A link is followed. Raises InputError that names the file when it cannot be written or the path is
    taken by what is no regular file. After any exception an older file of the name is as it was, and nothing else left.
    """
    name = os.fspath(path)
    if _is_special(name):
        raise InputError("is no regular file; name another", file=printable(name))
    with _told_of(name), _in_place_of(os.path.realpath(name)) as file:
        yield file


@contextmanager
def _told_of(name: str) -> Iterator[None]:
    """What the system has against writing to ``name``, as InputError."""
    shown = printable(name)
    try:
        yield
    except FileNotFoundError:
        raise InputError("cannot be written: its folder does not exist", file=shown) from None
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", file=shown) from None
    except UnicodeEncodeError:
        raise InputError("cannot be written: a text holds half a character (a lone surrogate)", file=shown) from None


def _is_special(name: str) -> bool:
    """There is something at ``name`` that must not be replaced by a file. Raises InputError for a folder."""
    with _told_of(name):
        try:
            mode = os.stat(name).st_mode
        except FileNotFoundError:
            return False
        except ValueError:
            raise InputError("is no name of a file", file=printable(name)) from None
    if stat.S_ISDIR(mode):
        raise InputError("is a folder; name a file in it", file=printable(name))
    return not stat.S_ISREG(mode)


@contextmanager
def _in_place_of(path: str) -> Iterator[TextIO]:
    folder, name = os.path.split(path)
    temporary = os.path.join(folder, f".{name[:50]}.{secrets.token_hex(6)}.tmp")
    # not tempfile: its files are private to the user, a new file here follows the umask and an old one keeps its mode
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        with open(handle, "w", encoding="utf-8", newline="\n") as file:
            if os.path.exists(path):
                os.fchmod(handle, stat.S_IMODE(os.stat(path).st_mode))
            yield file
            file.flush()
            os.fsync(handle)
        os.replace(temporary, path)
    except BaseException:
        with suppress(FileNotFoundError):
            os.unlink(temporary)
        raise
