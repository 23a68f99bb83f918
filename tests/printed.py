"""The layout that the formats page prints ("Layout"), and what a trial of it comes to ("Commands")."""

from __future__ import annotations

from typing import Any, Final

ONE_KILN: Final = """{"format": "splitwright-layout/1", "title": "One kiln, clay", "size": [4, 2, 3],
 "items": {"clay": {"stack": 64, "fires_to": "brick"}, "charcoal": {"stack": 64, "burn": 1600}, "brick": {"stack": 64}},
 "parts": [{"kind": "bin", "at": [0, 0, 2], "finish": "plain"},
           {"kind": "node", "at": [0, 0, 1], "outlet": "E"},
           {"kind": "node", "at": [1, 0, 1], "outlet": "D", "holds": [["clay", 2], null]},
           {"kind": "furnace", "at": [1, 0, 0]},
           {"kind": "support", "at": [2, 0, 0]}, {"kind": "gauge", "at": [2, 0, 1], "output": "E"},
           {"kind": "support", "at": [3, 0, 1]}, {"kind": "inverter", "at": [3, 1, 1], "mount": "S"},
           {"kind": "line", "at": [3, 1, 0]},
           {"kind": "support", "at": [2, 1, 0]}, {"kind": "relay", "at": [2, 1, 1], "output": "W", "delay": 2},
           {"kind": "support", "at": [1, 1, 1]}],
 "streams": [{"name": "feed", "item": "clay", "source": [0, 0, 2], "outputs": [[1, 0, 0]]}],
 "rules": {"handover": 8}}
"""
ONE_KILN_TRIAL: Final[dict[str, Any]] = {
    "format": "splitwright-trial/1",
    "tick": 41,
    "at_rest": True,
    "streams": [
        {
            "name": "feed",
            "delivered": [5],
            "spread": 0,
            "held_at_start": 2,
            "held": 0,
            "first_arrival": 1,
            "last_arrival": 33,
            # Added since the page was written: the fairness figures of a stream with one output.
            "jain": 1.0,
            "largest_lag": 0,
            "largest_lag_tick": None,
        }
    ],
    # The page shows the furnace, and the bin shortened; held = 0 says that the nodes are empty.
    "contents": {
        "1,0,0": [["clay", 5], None, None],
        "0,0,2": [None] * 27,
        "0,0,1": [None] * 5,
        "1,0,1": [None] * 5,
    },
    "signals": {"3,1,0": 15, "2,0,1": 0, "2,1,1": 1, "3,1,1": 1},
    "locked": ["1,0,1"],
    "findings": [],
}
"""With the load feed=3."""
