"""Words of findings."""

from __future__ import annotations


def with_article(noun: str) -> str:
    """``a bin``, ``an inverter``."""
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"
