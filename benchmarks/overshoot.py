"""Whether ``splitwright propose`` keeps to its time: 40 pairs of a spec and a limit, each run as a user runs it.

Run from the clone: .venv/bin/python -m benchmarks.overshoot [--seed S] [--only N] [--cold]
                    [--out FILE] [--markdown FILE]

A run's *overshoot* is its wall-clock time, less that of ``splitwright --version`` (the median of five: what it takes to
start), less the limit. Runs that end before their limit have none. Every run has a cache of its own, so that nothing is
known but what comes with splitwright.
"""

from __future__ import annotations

import argparse
import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from rich.console import Console

from benchmarks.questions import drawn
from benchmarks.reporting import fresh_cache, load, machine, machine_text, make_room, markdown_table, spread
from sim.world.files.writing import write_text

FOLDER: Final = Path(__file__).resolve().parent.parent / "specs"
PAIRS: Final = 40
LIMITS_S: Final = (2, 20)
STARTS: Final = 5
ANSWERED: Final = (0, 1, 3)
"""Exit statuses of an answer: layouts; none exists; none found."""
ALLOWED_S: Final = 1.0
"""How long after its limit a run may end."""
GRACE_S: Final = 120.0
"""After that a run is killed."""
COLUMNS: Final = ("spec", "limit", "seconds", "overshoot", "in time", "status")

Pair = tuple[str, str, int]
"""The spec's name, its text, seconds."""
Figures = dict[str, Any]


def pairs(seed: int) -> list[Pair]:
    """Every spec of the set, halls too, and questions drawn from the seed; with limits drawn from it."""
    rng = random.Random(seed)
    specs = [(path.stem, path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.toml"))]
    specs += [(question.name, question.toml) for question in drawn(seed, PAIRS - len(specs))]
    return [(name, text, rng.randint(*LIMITS_S)) for name, text in specs]


def command(*words: str) -> list[str]:
    """What a user types, for this interpreter."""
    return [sys.executable, "-m", "splitwright", *words]


def seconds_of(words: Sequence[str], environment: Mapping[str, str], limit_s: float) -> tuple[float, int, str]:
    """Wall-clock seconds of a run, its exit status, and in one line what broke it ("": nothing did).

    A status alone does not tell: 1 is the status of a proof that none exists, and of a program that breaks down.
    """
    began = time.monotonic()
    try:
        done = subprocess.run(
            command(*words), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
            env=environment, timeout=limit_s + GRACE_S,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return time.monotonic() - began, -1, f"killed {GRACE_S:g} s after its limit"
    took_s, told = time.monotonic() - began, done.stderr.strip().splitlines() or [f"status {done.returncode}"]
    broken = done.returncode not in ANSWERED or "Traceback" in done.stderr
    return took_s, done.returncode, told[-1] if broken else ""


def start_seconds() -> float:
    """What it takes to start: the median of some."""
    with fresh_cache() as environment:
        return statistics.median(seconds_of(["--version"], environment, 0)[0] for _ in range(STARTS))


def row_of(pair: Pair, start_s: float, *, compiled: bool) -> Figures:
    """One run."""
    name, text, limit_s = pair
    with fresh_cache(compiled=compiled) as environment, tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "spec.toml"
        path.write_text(text, encoding="utf-8")
        took_s, status, fault = seconds_of(["propose", str(path), "--time-limit", str(limit_s)], environment, limit_s)
    row: Figures = {"spec": name, "limit_s": limit_s, "load": load(), "status": status, "fault": fault}
    return row | figures(took_s - start_s, limit_s)


def figures(took_s: float, limit_s: float) -> Figures:
    """How a run of so many seconds, its start not counted, stands to its limit."""
    overshoot_s = max(0.0, took_s - limit_s)
    return {"seconds": round(took_s, 2), "overshoot_s": round(overshoot_s, 2), "in_time": overshoot_s <= ALLOWED_S}


def summary(rows: Sequence[Figures]) -> Iterator[str]:
    """What the runs come to, in sentences; those that broke down count for nothing but that."""
    whole = [row for row in rows if not row["fault"]]
    if whole:
        worst = max(whole, key=lambda row: float(row["overshoot_s"]))
        in_time, early = sum(row["in_time"] for row in whole), sum(row["seconds"] < row["limit_s"] for row in whole)
        yield f"Largest overshoot: {worst['overshoot_s']:.2f} s ({worst['spec']}, limit {worst['limit_s']} s)."
        yield f"Ended by the limit + {ALLOWED_S:g} s: {in_time} of {len(whole)}; before the limit: {early}."
    for row in rows:
        if row["fault"]:
            yield f"Broke down: {row['spec']}: {row['fault']}."


def cells_of(row: Figures) -> list[str]:
    """A row of the table."""
    numbers = [f"{row['seconds']:.2f}", f"{row['overshoot_s']:.2f}"]
    in_time = "broke down" if row["fault"] else "yes" if row["in_time"] else "no"
    return [row["spec"], str(row["limit_s"]), *numbers, in_time, str(row["status"])]


def main(words: Sequence[str] = ()) -> None:
    """Run, print, write; Ctrl-C ends it and keeps what there is."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=0, help="of the limits and of the drawn specs")
    parser.add_argument("--only", type=int, metavar="N", help="so many pairs, spread over all")
    parser.add_argument("--cold", action="store_true", help="nothing is compiled yet, as at the first use")
    parser.add_argument("--out", type=Path, metavar="FILE", help="JSON lines: the machine, then a line a run")
    parser.add_argument("--markdown", type=Path, metavar="FILE", help="the table, as Markdown")
    options = parser.parse_args(words)
    console, about = Console(highlight=False, markup=False, soft_wrap=True), machine("benchmarks.overshoot", words)
    make_room(options.out, options.markdown)
    rows: list[Figures] = []
    start_s = about["start_s"] = round(start_seconds(), 2)
    console.print(machine_text(about), f"To start: {start_s} s.", "  ".join(COLUMNS), sep="\n")
    with suppress(KeyboardInterrupt):
        for pair in spread(pairs(options.seed), options.only):
            rows.append(row_of(pair, start_s, compiled=not options.cold))
            console.print("  ".join(cells_of(rows[-1])))
    console.print(*summary(rows), sep="\n")
    if options.out is not None:
        write_text(options.out, "".join(f"{json.dumps(one)}\n" for one in (about, *rows)))
    if options.markdown is not None:
        sentences = "\n".join((machine_text(about), f"To start: {start_s} s.", *summary(rows)))
        table = markdown_table(COLUMNS, [cells_of(row) for row in rows])
        write_text(options.markdown, f"# Overshoot\n\n{sentences}\n\n{table}")


if __name__ == "__main__":
    main(sys.argv[1:])
