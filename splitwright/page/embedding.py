"""Data for a page's scripts, as it stands in the page."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def json_text(data: Mapping[str, Any]) -> str:
    """JSON without blanks that may stand in a script element: ASCII, with ``<``, ``>`` and ``&`` escaped."""
    text = json.dumps(data, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
