"""A text file that is written bit by bit and appears whole or not at all."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TextIO

from sim.errors import InputError


@contextmanager
def streamed_file(path: str | os.PathLike[str]) -> Iterator[TextIO]:
    """A text file to write to while entered; it takes the name ``path`` when left without an exception.

    Until then it is a temporary file beside it, opened at once, so that a path that cannot be written is told before
    the work starts. A link is followed. Raises InputError, naming the file, when it cannot be written or the path is
    taken by what is no regular file.
    """
    shown = os.fspath(path)
    try:
        target = _regular(shown)
        folder, name = os.path.split(target)
        temporary = os.path.join(folder, f".{name[:100]}.{secrets.token_hex(6)}.tmp")
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    except FileNotFoundError:
        raise InputError("cannot be written: its folder does not exist", file=shown) from None
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", file=shown) from None
    except ValueError:
        raise InputError("is no name of a file", file=shown) from None
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            yield file
        os.replace(temporary, target)
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", file=shown) from None
    finally:
        with suppress(FileNotFoundError):
            os.unlink(temporary)


def _regular(path: str) -> str:
    """The real path of a regular file, or of none yet."""
    with suppress(FileNotFoundError):
        mode = os.stat(path).st_mode
        if stat.S_ISDIR(mode):
            raise InputError("is a folder; name a file in it", file=path)
        if not stat.S_ISREG(mode):
            raise InputError("is no regular file; name another", file=path)
    return os.path.realpath(path)
