"""``splitwright compare``: layouts side by side, on one page."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from sim.errors import InputError
from sim.files.places import printable
from sim.files.reading import load_layout
from sim.files.writing import write_text
from sim.rulebook import default_rules
from splitwright.failures import DONE
from splitwright.options import AsJson, Labels, Quiet
from splitwright.output import emit_json, show
from splitwright.output_files import check_apart
from splitwright.progress import line_progress
from splitwright.tables import plain_table

if TYPE_CHECKING:
    from rich.console import RenderableType

    from splitwright.compare.comparison import Compared, Comparison
    from splitwright.words import Words

EXAMPLE: Final = "Example: splitwright compare build/layout-1.json build/layout-2.json --out build/compare.html"

LayoutFiles = Annotated[list[Path], typer.Argument(metavar="LAYOUT...", help="Layouts: .json or .plan files.")]
Out = Annotated[
    Path, typer.Option("--out", metavar="FILE.html", show_default="compare.html, in this folder", help="The page.")
]


def compare(
    layouts: LayoutFiles,
    out: Out = Path("compare.html"),
    labels: Labels = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Set layouts side by side on one HTML page: measures, small plans, and the Pareto front of volume, parts and
    last arrival.

    Each is tried in the simulator with 18 items an output (6, 2 or 1 where a source has no room for so many), under
    both handovers. Those that split evenly come first, then the smaller ones; those without a stream come last. A
    layout's build sheet is linked if it stands beside it under its name (kilns.html beside kilns.plan) and was made of
    the layout as it is now.
    Exit status: 0 written, 2 bad input.
    """
    from splitwright.compare.comparison import Comparison, ranked
    from splitwright.compare.page import compare_html
    from splitwright.words import english
    from splitwright.words.labels import load_labels

    words: Words = english() if labels is None else load_labels(labels)
    rules = default_rules()
    check_apart("--out", out, {f"layout {printable(str(path))}": path for path in layouts} | {"labels file": labels})
    with line_progress(quiet) as told:
        entries = ranked(_measured(layouts, out, told))
    comparison = Comparison(entries, rules.ticks_per_second)
    write_text(out, compare_html(comparison, words))
    if as_json:
        from splitwright.compare.document import compare_document

        emit_json(compare_document(comparison, [out]))
    else:
        show(*_report(comparison, out, quiet))
    return DONE


def _measured(layouts: Sequence[Path], out: Path, told: Callable[[str], None]) -> Iterator[Compared]:
    """Each layout, read and tried. Raises InputError that names the file."""
    from splitwright.compare.comparison import measured
    from splitwright.compare.links import sheet_beside

    rules = default_rules()
    known = [(path, load_layout(path, rules)) for path in _each_once(layouts)]
    for path, layout in known:
        told(f"trials of {printable(str(path))}")
        try:
            entry = measured(layout, rules, str(path))
        except InputError as error:
            raise error.within(printable(str(path))) from None
        yield replace(entry, sheet=sheet_beside(path, layout, out))


def _each_once(layouts: Sequence[Path]) -> Sequence[Path]:
    for i, path in enumerate(layouts):
        if path in layouts[:i]:
            raise InputError("is given twice; name it once", file=printable(str(path)))
    return layouts


def _report(comparison: Comparison, out: Path, quiet: bool) -> Iterator[RenderableType]:
    if not quiet:
        right = ("rank", "volume", "parts", "last", "an hour")
        table = plain_table("rank", "volume", "parts", "last", "an hour", "even", "front", "file", right=right)
        for entry, standing in zip(comparison.entries, comparison.standings, strict=True):
            table.add_row(
                str(entry.number), str(entry.built.volume), str(entry.built.parts), _or_none(entry.latency),
                _or_none(entry.throughput), _even(entry), _STANDINGS[standing],
                printable(entry.file),
            )  # fmt: skip
        yield table
        yield ""
    yield f"Written: {printable(str(out))}"


_STANDINGS: Final = {"front": "on it", "beaten": "beaten", "apart": "not compared"}


def _even(entry: Compared) -> str:
    if not entry.runs:
        return "-"
    return "yes" if entry.is_even else "no"


def _or_none(number: float | None) -> str:
    return "-" if number is None else f"{number:.0f}"
