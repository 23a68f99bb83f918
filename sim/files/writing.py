"""Text to a file, whole or not at all."""

from __future__ import annotations

import os
import secrets
import stat
from pathlib import Path

from sim.errors import InputError
from sim.files.places import printable


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """Writes ``text`` as UTF-8 to ``path``: to a temporary file beside it, which then takes its name.

    A link is followed; what is no regular file (a terminal, a pipe) is written to as it is. Raises InputError that
    names the file; the temporary file is gone then, and an older file of the name is as it was.
    """
    name = os.fspath(path)
    shown = printable(name)
    try:
        data = text.encode("utf-8")
        if _is_special(name):
            Path(name).write_bytes(data)
        else:
            _replace(os.path.realpath(name), data)
    except IsADirectoryError:
        raise InputError("is a folder; name a file in it", file=shown) from None
    except FileNotFoundError:
        raise InputError("cannot be written: its folder does not exist", file=shown) from None
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror})", file=shown) from None
    except UnicodeEncodeError:
        raise InputError("cannot be written: a text holds half a character (a lone surrogate)", file=shown) from None
    except ValueError:
        raise InputError("is no name of a file", file=shown) from None


def _is_special(path: str) -> bool:
    """There is something at ``path`` that must not be replaced by a file. Raises IsADirectoryError for a folder."""
    try:
        mode = os.stat(path).st_mode
    except FileNotFoundError:
        return False
    if stat.S_ISDIR(mode):
        raise IsADirectoryError
    return not stat.S_ISREG(mode)


def _replace(path: str, data: bytes) -> None:
    folder, name = os.path.split(path)
    temporary = os.path.join(folder, f".{name[:100]}.{secrets.token_hex(6)}.tmp")
    # not tempfile: its files are private to the user, a new file here follows the umask and an old one keeps its mode
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        with open(handle, "wb") as file:
            if os.path.exists(path):
                os.fchmod(handle, stat.S_IMODE(os.stat(path).st_mode))
            file.write(data)
            file.flush()
            os.fsync(handle)
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise
