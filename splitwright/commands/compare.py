"""``splitwright compare``: layouts side by side, on one page."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from sim.world.layout import Layout
from sim.world.rulebook import Rules, default_rules
from splitwright.cli.failures import DONE
from splitwright.cli.options import AsJson, Labels, Quiet
from splitwright.cli.output import emit_json, show, written
from splitwright.cli.output_files import PAGE, check_output
from splitwright.cli.progress import line_progress
from splitwright.cli.spec_input import any_spec, check_same_job, job_of, prices_of
from splitwright.cli.tables import plain_table

if TYPE_CHECKING:
    from rich.console import RenderableType

    from splitwright.compare.comparison import Compared, Comparison
    from splitwright.words import Words

EXAMPLE: Final = "Example: splitwright compare build/layout-1.json build/layout-2.json --out build/compare.html"

LayoutFiles = Annotated[list[Path], typer.Argument(metavar="LAYOUT...", help="Layouts: .json or .plan files.")]
Out = Annotated[
    Path, typer.Option("--out", metavar="FILE.html", show_default="compare.html, in this folder", help="The page.")
]
SpecFile = Annotated[
    Path | None,
    typer.Option(
        "--spec", metavar="SPEC", show_default=False, help="Take prices, the ranking and the rulebook from this spec."
    ),
]


def compare(
    layouts: LayoutFiles,
    out: Out = Path("compare.html"),
    spec: SpecFile = None,
    labels: Labels = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Set layouts side by side on one HTML page: measures, small plans, and the Pareto front of volume, parts and
    last arrival.

    Each is tried in the simulator with 18 items an output (6, 2 or 1 where a source has no room for so many), under
    both handovers. Those that split evenly come first, then the smaller ones (with --spec, by its order); those without
    a stream come last. Layouts for different numbers of outputs are refused: a smaller job is no better build. A
    layout's build sheet is linked if it stands beside it under its name (kilns.html beside kilns.plan) and was made of
    the layout as it is now.
    Exit status: 0 written, 2 bad input.
    """
    from splitwright.compare.comparison import EVENNESS, MEASURES, Comparison, ranked
    from splitwright.compare.page import compare_html
    from splitwright.words import english
    from splitwright.words.labels import load_labels

    words: Words = english() if labels is None else load_labels(labels)
    inputs = {f"layout {printable(str(path))}": path for path in layouts}
    check_output("--out", out, PAGE, {**inputs, "labels file": labels, "spec": spec})
    asked = None if spec is None else any_spec(spec)
    rules = default_rules() if asked is None else asked.rulebook.rules
    prices = {} if asked is None else prices_of(asked)
    order = MEASURES if asked is None else asked.order
    known = {path: load_layout(path, rules) for path in _each_once(layouts)}
    _check_one_job(known)
    if spec is not None and asked is not None:
        check_same_job(spec, asked, {printable(str(path)): layout for path, layout in known.items()})
    with line_progress(quiet) as told:
        entries = ranked(_measured(known, rules, prices, out, told), order)
    comparison = Comparison(entries, rules.ticks_per_second, (EVENNESS, *order), bool(prices))
    write_text(out, compare_html(comparison, words))
    if as_json:
        from splitwright.compare.document import compare_document

        emit_json(compare_document(comparison, [out]))
    else:
        show(*_report(comparison, out, quiet))
    return DONE


def _check_one_job(known: Mapping[Path, Layout]) -> None:
    """Raises InputError, with what to type instead, where the layouts do not all split among as many outputs."""
    fields: dict[tuple[int, ...], list[Path]] = {}
    for path, layout in known.items():
        if job := job_of(layout):
            fields.setdefault(job, []).append(path)
    if len(fields) > 1:
        told = "; ".join(
            f"{' and '.join(map(str, job))} in {', '.join(printable(str(path)) for path in paths)}"
            for job, paths in fields.items()
        )
        each = " ; ".join(
            printable(shlex.join(["splitwright", "compare", *map(str, paths), "--out", f"compare-{i}.html"]))
            for i, paths in enumerate(fields.values(), 1)
        )
        fault = f"they do not all serve as many outputs, which is not one field to rank ({told}); compare them apart"
        raise InputError(f"{fault}: {each}", file="LAYOUT...")


def _measured(
    known: Mapping[Path, Layout], rules: Rules, prices: Mapping[str, int], out: Path, told: Callable[[str], None]
) -> Iterator[Compared]:
    """Each layout, tried. Raises InputError that names the file."""
    from splitwright.compare.comparison import measured
    from splitwright.compare.links import sheet_beside

    for path, layout in known.items():
        told(f"trials of {printable(str(path))}")
        try:
            entry = measured(layout, rules, str(path), prices)
        except InputError as error:
            raise error.within(printable(str(path))) from None
        yield replace(entry, sheet=sheet_beside(path, layout, out))


def _each_once(layouts: Sequence[Path]) -> Sequence[Path]:
    for i, path in enumerate(layouts):
        if path in layouts[:i]:
            raise InputError("is given twice; name it once", file=printable(str(path)))
    return layouts


def _report(comparison: Comparison, out: Path, quiet: bool) -> Iterator[RenderableType]:
    """Which is the first, by what; then all of them, and what to ask next; ``quiet``: the first line alone."""
    best = comparison.entries[0]
    count, order = len(comparison.entries), ", ".join(comparison.order[1:])
    if not best.is_even:
        yield f"None of {count} splits the load of its trial evenly; splitwright trial LAYOUT tells where not."
    else:
        yield f"First of {count}: {printable(best.file)}, even in its trial, and ranked by {order}."
    if quiet:
        return
    yield ""
    right = ("rank", "volume", "parts", *(["price"] if comparison.priced else []), "last", "an hour")
    table = plain_table(*right, "even", "front", "file", right=right)
    for entry, standing in zip(comparison.entries, comparison.standings, strict=True):
        table.add_row(
            str(entry.number), str(entry.built.volume), str(entry.built.parts),
            *([str(entry.built.price)] if comparison.priced else []), _or_none(entry.latency),
            _or_none(entry.throughput), _even(entry), _STANDINGS[standing],
            printable(entry.file),
        )  # fmt: skip
    yield table
    yield ""
    if best.is_even:
        yield f"When it stays even: {printable(shlex.join(['splitwright', 'assure', best.file]))}"
    yield written([out])


_STANDINGS: Final = {"front": "on it", "beaten": "beaten", "apart": "not compared"}


def _even(entry: Compared) -> str:
    if not entry.runs:
        return "-"
    return "yes" if entry.is_even else "no"


def _or_none(number: float | None) -> str:
    return "-" if number is None else f"{number:.0f}"
