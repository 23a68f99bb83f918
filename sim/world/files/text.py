"""The text of a file, with one line for whatever stands in the way."""

from __future__ import annotations

from typing import Final

from sim.errors import InputError

BYTES_MOST: Final = 64 * 1024 * 1024
"""Largest file that is read: a bound on memory."""


def read_text(path: str, due: str) -> str:
    """The text of a UTF-8 file, without a byte order mark.

    ``due`` says what would be right where there is no text at all ("a layout is JSON or a plan"). Raises InputError,
    which names no file.
    """
    try:
        with open(path, "rb") as file:
            data = file.read(BYTES_MOST + 1)
    except FileNotFoundError:
        raise InputError("there is no such file") from None
    except IsADirectoryError:
        raise InputError("is a folder; name a file in it") from None
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})") from None
    except ValueError:
        raise InputError("is no name of a file") from None
    return _decoded(data, due)


def _decoded(data: bytes, due: str) -> str:
    if len(data) > BYTES_MOST:
        raise InputError(f"is larger than {BYTES_MOST // 1024**2} MB, the most that is read")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"is no UTF-8 text (at byte {error.start + 1}); save it as UTF-8") from None
    if "\0" in text:
        raise InputError(f"is no text but binary; {due}")
    if not text.strip():
        raise InputError(f"is empty; {due}")
    return text
