"""``python -m tests.exhaustive``: all of it, progress on stderr, counts on stdout; exit status 1 on a difference."""

from __future__ import annotations

import sys
import time

from .compare import Tally
from .fillings import BOXES, FILLINGS, compare_random_fillings
from .plans import all_plans
from .walk import walk


def main() -> int:
    """Both comparisons, one after the other."""
    walked, drawn = Tally(), Tally()
    for plan in all_plans():
        begun = time.monotonic()
        one = walk(plan)
        _progress(str(plan), one, begun)
        walked.add(one)
    for size, reach, stack in BOXES:
        begun = time.monotonic()
        one = compare_random_fillings(size, reach, stack, FILLINGS // len(BOXES))
        _progress(f"random {'x'.join(map(str, size))}, reach {reach}, stack {stack}", one, begun)
        drawn.add(one)
    _counts("every filling of a box of up to 6 cells", walked)
    _counts("random fillings of larger boxes", drawn)
    return 1 if walked.found or drawn.found else 0


def _progress(title: str, tally: Tally, begun: float) -> None:
    seconds = time.monotonic() - begun
    counts = f"{tally.assignments} assignments, {tally.admitted} admitted, {tally.found} differences"
    sys.stderr.write(f"{title}: {counts}, {seconds:.1f} s\n")


def _counts(title: str, tally: Tally) -> None:
    lines = [
        title,
        f"  assignments  {tally.assignments}  (looked at one by one: {tally.one_by_one})",
        f"  admitted     {tally.admitted}  (fields compared: {tally.rows})",
        f"  refused      {tally.assignments - tally.admitted}  {dict(tally.refused)}",
        f"  differences  {tally.found}",
        *(f"    {text}" for text in tally.differences),
        f"  values       {dict(sorted(tally.seen.items()))}",
    ]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    sys.exit(main())
