"""By what a sheet and its layout are known to belong together."""

from __future__ import annotations

from hashlib import sha256
from typing import Final

from sim.world.files.layout_json import layout_json_text
from sim.world.layout import Layout

DIGEST_DIGITS: Final = 16
"""Far more than what tells apart as many layouts as a person has."""


def layout_digest(layout: Layout) -> str:
    """Of all that a layout says: hexadecimal digits. A sheet bears that of its layout as ``data-layout``."""
    return sha256(layout_json_text(layout).encode()).hexdigest()[:DIGEST_DIGITS]
