"""What is said of the wait on the first use, when what tells whether a split is even is compiled."""

from __future__ import annotations

from typing import Final

from sim.world.kernel.keeping import is_first_use

HOW_LONG: Final = "once: half a minute, a minute or two on a slow or busy machine"


def compiling_told() -> str:
    """What a command does before its first question: on the first use that takes far longer than later on."""
    return f"first use: compiling ({HOW_LONG})" if is_first_use() else "loading what was compiled"
