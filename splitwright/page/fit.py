"""Text that may stand in HTML and XML alike."""

from __future__ import annotations

import re
from typing import Final

_UNFIT: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef"
    + "".join(chr(plane << 16 | low) for plane in range(17) for low in (0xFFFE, 0xFFFF))
    + "]"
)
"""Controls, halves of characters and noncharacters: HTML (13.2.3.5, "Preprocessing the input stream") calls them
faults, XML 1.0 (2.2, "Characters") forbids or discourages them, even escaped."""
_BREAK: Final = re.compile("\r\n?")


def fit(text: str) -> str:
    """``text`` with a replacement character in place of each that no page may hold, and line feeds as line breaks."""
    return _BREAK.sub("\n", _UNFIT.sub("\ufffd", text))
