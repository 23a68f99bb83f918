"""How soon a layout comes and how good it is, with known builds and from the solver alone, over 60 questions.

Run from the clone: .venv/bin/python -m benchmarks.answers [--seed S] [--seconds 60] [--only N] [--quick]
                    [--out FILE] [--markdown FILE]

Each question is asked twice, one after the other, in a process and with a cache of its own: of ``propose`` with the
atlas (nothing else is kept), then of the solver alone, without any known builds. Seconds count from the start of the
process, imports included, as a user waits. The other figures are the best layout by the spec's ranking, as cells/parts,
after 10 s and at the end, and the bound of the ranking's first measure.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, TextIO

from rich.console import Console
from rich.table import Table

from benchmarks.questions import FIXED, Question, questions
from benchmarks.reporting import fresh_cache, load, machine, machine_text, make_room, markdown_table, spread
from sim.world.files.writing import write_text
from splitwright.proposing.options import mebibytes_of
from splitwright.proposing.report import site_ruled_out
from synth.ask.spec import Spec
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.model.images import canonical_key
from synth.read.spec_file import spec_from_toml
from synth.search.known.build import Store
from synth.search.known.cache import Cache, default_file
from synth.search.known.source import KnownBuilds, shipped
from synth.search.race import propose
from synth.search.request import Request

Figures = dict[str, Any]

SOON_S: Final = (3.0, 20.0)
"""Within how many seconds an answer is asked for."""
LOOKED_AT_S: Final = 10.0
"""When the best layout so far is looked at."""
LAYOUTS: Final = 8
"""As many as the command lists."""
GRACE_S: Final = 120.0
"""After the limit a process has so long to end by itself."""
END_S: Final = 10.0
"""How long a process that is told to end is waited for."""
QUICK: Final = (12, 10.0)
"""Questions and seconds of a quick run."""
WAYS: Final = {"known": "known builds and searches", "alone": "the solver alone"}
COLUMNS: Final = {
    "question": 46, "first": 6, "source": 12, "10 s": 8, "end": 8, "bound": 10,
    "alone": 6, "10 s alone": 10, "end alone": 9, "bound alone": 11, "ratio": 5,
}  # fmt: skip
"""The columns of the table and their widths."""


# -- one question, in a process of its own ----------------------------------------------------------------------------


def figures_of(spec: Spec, seconds: float, began: float, *, known: bool) -> Figures:
    """What comes of one question. ``began``: of ``time.monotonic``, from when on seconds count."""
    came: list[tuple[float, Proposal]] = []
    request = Request(
        top=LAYOUTS, limit_s=seconds, workers=os.cpu_count() or 1, mebibytes=mebibytes_of(None),
        stores=shipped() if known else (), cache=Cache(default_file()) if known else None,
        found=lambda proposal: came.append((time.monotonic() - began, proposal)),
    )  # fmt: skip
    start_s = time.monotonic() - began
    answer = propose(spec, request)
    took_s = time.monotonic() - began
    figures: Figures = {"start_s": round(start_s, 2), "seconds": round(took_s, 2), "complete": answer.complete}
    figures["outcome"] = "found" if came else "none exists" if site_ruled_out(spec, answer) else "open"
    for step in answer.steps[:1]:
        figures |= {"measure": step.measure, "bound": step.bound, "proved": step.proved}
    if came:
        first_s, first = came[0]
        early = [one for at_s, one in came if at_s <= LOOKED_AT_S]
        figures |= {"first_s": round(first_s, 2), "scheme": first.scheme, "source": source_of(first, spec, shipped())}
        figures |= {"early": best_of(early, spec), "last": best_of([one for _, one in came], spec)}
    return figures


def best_of(proposals: Sequence[Proposal], spec: Spec) -> list[int] | None:
    """Cells and parts of the best by the spec's ranking."""
    best = min((one.measures for one in proposals), key=lambda one: rank_key(one, spec.order), default=None)
    return None if best is None else [best.volume, best.parts]


def source_of(first: Proposal, spec: Spec, stores: Sequence[Store]) -> str:
    """Where a layout comes from: a store has it, or one of another length that makes it, or else it was searched for.

    A layout that a search happens to find too counts as known: known builds come first, and no layout is told twice.
    """
    known, key = KnownBuilds(stores), canonical_key(first.layout)
    pinned = replace(spec, scheme=first.scheme, even_for=first.even_for)
    if any(key == canonical_key(one.layout) for one in known.builds(pinned)):
        return "known build"
    return "other length" if any(key == canonical_key(one) for one in known.candidates(pinned)) else "search"


def asked(question: Question, seconds: float, *, known: bool) -> Figures:
    """The figures of a question, asked in a process and with a cache of its own."""
    document = {"spec": question.toml, "seconds": seconds, "began": time.monotonic(), "known": known}
    command = [sys.executable, "-m", "benchmarks.answers", "--one"]
    with fresh_cache() as environment, subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment,
        start_new_session=True,
    ) as process:  # fmt: skip
        try:
            told, faults = process.communicate(json.dumps(document), timeout=seconds + GRACE_S)
        except subprocess.TimeoutExpired:
            end(process)
            return {"outcome": "failed", "fault": f"did not end by {seconds + GRACE_S:g} s"}
        except BaseException:
            end(process)
            raise
    if process.returncode:
        return {"outcome": "failed", "fault": (faults.strip().splitlines() or [f"status {process.returncode}"])[-1]}
    figures: Figures = json.loads(told)
    return figures


def end(process: subprocess.Popen[str]) -> None:
    """End it as Ctrl-C does, so that it ends its workers; by force where it does not listen."""
    process.send_signal(signal.SIGINT)
    try:
        process.wait(END_S)
    except subprocess.TimeoutExpired:
        process.kill()


def answer_one() -> None:
    """The process: one question on standard input, its figures on standard output."""
    document = json.load(sys.stdin)
    spec = spec_from_toml(document["spec"])
    print(json.dumps(figures_of(spec, document["seconds"], document["began"], known=document["known"])))


# -- tables -----------------------------------------------------------------------------------------------------------


def ratio_of(row: Figures) -> tuple[float, str] | None:
    """Seconds to the first layout against those of the solver alone, and how it is written.

    It is less than that where the solver alone has none by its end. None where known builds and searches have none.
    """
    known, alone = (row[way] for way in WAYS)
    if "first_s" not in known or alone["outcome"] not in ("found", "open"):
        return None
    ratio = known["first_s"] / alone.get("first_s", alone["seconds"])
    return ratio, f"{'' if 'first_s' in alone else '<'}{ratio:.2f}"


def cells_of(row: Figures) -> list[str]:
    """A row of the table."""
    known, alone = ([*_cells(row[way])] for way in WAYS)
    _, ratio = ratio_of(row) or (0, "-")
    return [row["question"], known[0], row["known"].get("source", "-"), *known[1:], *alone, ratio]


def _cells(figures: Figures) -> Iterator[str]:
    yield f"{figures['first_s']:.1f}" if "first_s" in figures else "none" if _is_ruled_out(figures) else "-"
    for best in (figures.get("early"), figures.get("last")):
        yield "-" if best is None else f"{best[0]}/{best[1]}"
    bound = figures.get("bound")
    yield "-" if bound is None else f"{bound:g}{' proved' * figures['proved']}"


def _is_ruled_out(figures: Figures) -> bool:
    return bool(figures["outcome"] == "none exists")


def shares(rows: Sequence[Figures]) -> list[list[object]]:
    """For each way of asking: how many questions were answered how soon."""
    table: list[list[object]] = []
    for way, name in WAYS.items():
        firsts = [row[way]["first_s"] for row in rows if "first_s" in row[way]]
        counts = [sum(one <= soon for one in firsts) for soon in SOON_S]
        outcomes = [row[way]["outcome"] for row in rows]
        counts += [len(firsts), *(outcomes.count(outcome) for outcome in ("none exists", "open", "failed"))]
        table.append([name, *(f"{count} ({count / max(1, len(rows)):.0%})" for count in counts)])
    return table


SHARES: Final = (
    "asked of", *(f"layout within {soon:g} s" for soon in SOON_S), "layout within the limit", "none exists (proved)",
    "no answer", "failed",
)  # fmt: skip


def further(rows: Sequence[Figures]) -> Iterator[str]:
    """Where first layouts came from, and how soon they came against the solver alone, in sentences."""
    sources = [row["known"]["source"] for row in rows if "source" in row["known"]]
    counts = ", ".join(f"{source} {sources.count(source)}" for source in sorted(set(sources)))
    yield f"First layouts by source: {counts or 'none'}."
    ratios = {row["question"]: ratio for row in rows if (ratio := ratio_of(row)) is not None}
    both = [ratio for ratio, text in ratios.values() if "<" not in text]
    about = "Seconds to the first layout against the solver alone"
    if both:
        yield f"{about}, where both have one ({len(both)} questions): geometric mean " \
              f"{statistics.geometric_mean(both):.2f}, median {statistics.median(both):.2f}, " \
              f"from {min(both):.2f} to {max(both):.2f}."  # fmt: skip
    if len(ratios) > len(both):
        most = statistics.geometric_mean(ratio for ratio, _ in ratios.values())
        yield f"{about}, where that has one or none by its end ({len(ratios)} questions): geometric mean " \
              f"{most:.2f} at most."  # fmt: skip
    found = [tuple("first_s" in row[way] for way in WAYS) for row in rows]
    yield f"Found with known builds and searches only: {found.count((True, False))}; by the solver alone only: " \
          f"{found.count((False, True))}."  # fmt: skip
    ends = [(row["known"]["last"], row["alone"]["last"]) for row in rows if all("last" in row[way] for way in WAYS)]
    less, more = sum(known < alone for known, alone in ends), sum(known > alone for known, alone in ends)
    yield f"At the end, against the solver alone: fewer cells, or as many with fewer parts {less}; more {more}; " \
          f"the same {len(ends) - less - more}."  # fmt: skip


def as_markdown(about: Figures, rows: Sequence[Figures]) -> str:
    """All of it as a page."""
    return "\n".join((
        "# Answers\n",
        machine_text(about) + "\n",
        "Seconds from the start of the process; layouts as cells/parts; bounds of the ranking's first measure.\n",
        markdown_table(SHARES, shares(rows)),
        *(f"{sentence}\n" for sentence in further(rows)),
        markdown_table(list(COLUMNS), [cells_of(row) for row in rows]),
    ))  # fmt: skip


def line(cells: Sequence[str]) -> Table:
    """A row as it is printed while the rest is still to come."""
    table = Table.grid(padding=(0, 1, 0, 0))
    for number, width in enumerate(COLUMNS.values()):
        table.add_column(width=width, justify="left" if number in (0, 2) else "right", overflow="fold")
    table.add_row(*cells)
    return table


# -- the run ----------------------------------------------------------------------------------------------------------


def rows_of(asked_for: Sequence[Question], seconds: float) -> Iterator[Figures]:
    """One row a question, as they come."""
    for question in asked_for:
        kind = "fixed" if question in FIXED else "drawn"
        row: Figures = {"question": question.name, "kind": kind, "load": load(), "spec": question.toml}
        yield row | {way: asked(question, seconds, known=way == "known") for way in WAYS}


def run(about: Figures, asked_for: Sequence[Question], seconds: float, out: TextIO | None) -> list[Figures]:
    """All questions, told and written as they come; Ctrl-C ends it and keeps what there is."""
    console = Console(highlight=False, markup=False, width=max(sum(COLUMNS.values()) + len(COLUMNS), 80))
    rows: list[Figures] = []
    console.print(machine_text(about), soft_wrap=True)
    console.print(line(list(COLUMNS)))
    if out is not None:
        print(json.dumps(about), file=out, flush=True)
    with suppress(KeyboardInterrupt):
        asked(asked_for[0], 1.0, known=True)  # what is read from the disk for the first time is nobody's cost
        for row in rows_of(asked_for, seconds):
            rows.append(row)
            console.print(line(cells_of(row)))
            if out is not None:
                print(json.dumps(row), file=out, flush=True)
    for name, told in ((WAYS[way], row[way]) for row in rows for way in WAYS if "fault" in row[way]):
        console.print(f"failed ({name}): {told['fault']}")
    console.print(markdown_table(SHARES, shares(rows)), *further(rows), sep="\n", soft_wrap=True)
    return rows


def main(words: Sequence[str] = ()) -> None:
    """Ask, print, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=0, help="of the drawn half of the questions")
    parser.add_argument("--seconds", type=float, help="for each question, twice (default 60)")
    parser.add_argument("--only", type=int, metavar="N", help="so many questions, spread over all")
    parser.add_argument("--quick", action="store_true", help="{} questions, {:g} seconds each".format(*QUICK))
    parser.add_argument("--out", type=Path, metavar="FILE", help="JSON lines: the machine, then a line a question")
    parser.add_argument("--markdown", type=Path, metavar="FILE", help="the tables, as Markdown")
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args(words)
    if options.one:
        answer_one()
        return
    count, seconds = QUICK if options.quick else (None, 60.0)
    asked_for = spread(questions(options.seed), options.only or count)
    seconds = seconds if options.seconds is None else options.seconds
    about = machine("benchmarks.answers", words)
    make_room(options.out, options.markdown)
    out = None if options.out is None else options.out.open("w", encoding="utf-8")
    try:
        rows = run(about, asked_for, seconds, out)
    finally:
        if out is not None:
            out.close()
    if options.markdown is not None:
        write_text(options.markdown, as_markdown(about, rows))


if __name__ == "__main__":
    main(sys.argv[1:])
