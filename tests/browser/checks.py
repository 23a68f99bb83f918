"""What can be asked of any page of ours; each check returns its findings, one line each, none when all is well.

- ``axe_violations``: axe-core (Deque, MPL 2.0), its rules for WCAG 2.0 to 2.2, levels A and AA.
- ``html_faults``: parse errors of the HTML standard as html5lib finds them.
- ``nu_faults``, ``svg_faults``: the Nu HTML checker of the W3C, for pages (with their CSS and SVG) and SVG files.
- ``keyboard_faults``: WCAG 2.2, 2.1.1 Keyboard, 2.1.2 No Keyboard Trap, 2.4.7 Focus Visible and
  2.4.11 Focus Not Obscured (Minimum).
- ``width_faults``: WCAG 2.2, 1.4.10 Reflow: no scrolling in two directions but inside of what needs it.
"""

from __future__ import annotations

import json
import subprocess
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, TypedDict

import html5lib
from axe_playwright_python.base import AXE_SCRIPT  # type: ignore[import-untyped]
from playwright.sync_api import Page

from browser.needs import needed_nu

WCAG: Final = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa")
GRAVE: Final = ("serious", "critical")
TABS_MOST: Final = 5000
"""No page of ours has as many places to tab to; who comes here goes in circles."""
INTERACTIVE: Final = (
    'a[href], button, input:not([type="hidden"]), select, textarea, summary, [tabindex]:not([tabindex^="-"])'
)
SVG_PROPERTIES: Final = ("paint-order", "r", "vector-effect")
"""Properties of SVG 2 (W3C, sections 13.8, 7.4 and 8.13) that browsers have and the CSS part of Nu does not."""
_SCRIPTS: Final = (Path(__file__).parent / "checks.js").read_text(encoding="utf-8")


class Stop(TypedDict):
    """Where the focus stands: the element's ``name`` for a reader, its ``number`` among the interactive ones (-1 for
    any other, such as a box that scrolls), whether something shows that the focus is there, and whether the element
    lies wholly under something else or outside of the window."""

    name: str
    number: int
    is_shown: bool
    is_covered: bool


def axe_violations(page: Page, impacts: Sequence[str] = GRAVE) -> list[str]:
    """Rules of axe-core that the page breaks, one line an element, of the impacts asked for."""
    page.evaluate(AXE_SCRIPT)
    options = {
        "runOnly": {"type": "tag", "values": list(WCAG)},
        "rules": {"target-size": {"enabled": True}},  # of WCAG 2.2, and off unless asked for
        "resultTypes": ["violations"],
    }
    found: dict[str, Any] = page.evaluate("options => axe.run(document, options)", options)
    return [
        f"{broken['impact']} {broken['id']}: {node['target']}: {node.get('failureSummary', '')}"
        for broken in found["violations"]
        for node in broken["nodes"]
        if broken["impact"] in impacts
    ]


def html_faults(text: str) -> list[str]:
    """Parse errors in the text of a page."""
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    parser.parse(text)
    return [f"line {line}, column {column}: {fault} {data}" for (line, column), fault, data in parser.errors]


def nu_faults(*paths: Path) -> list[str]:
    """Errors in pages. One start of the checker takes a second, and each page more a tenth: ask for many at once."""
    return _nu("--html", paths)


def svg_faults(*paths: Path) -> list[str]:
    """Errors in SVG files that stand alone."""
    return _nu("--svg", paths)


def _nu(kind: str, paths: Sequence[Path]) -> list[str]:
    command = [*needed_nu(), "--format", "json", "--stdout", "--exit-zero-always", kind, *map(str, paths)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    known = {f"CSS: “{name}”: Property “{name}” doesn't exist." for name in SVG_PROPERTIES}
    messages: list[dict[str, Any]] = json.loads(done.stdout)["messages"]
    return [
        f"{Path(message.get('url', '')).name}, line {message.get('lastLine')}: {message['message']} "
        f"[{message.get('extract', '')}]"
        for message in messages
        if message["type"] != "info" and message["message"] not in known
    ]


def tab_stops(page: Page) -> list[Stop]:
    """Where Tab leads, from the top of the page to its end."""
    page.evaluate(_SCRIPTS)
    page.evaluate("selector => splitwrightChecks.begin(selector)", INTERACTIVE)
    stops: list[Stop] = []
    for _ in range(TABS_MOST):
        page.keyboard.press("Tab")
        stop: Stop | None = page.evaluate("() => splitwrightChecks.stop()")
        if stop is None:
            return stops
        stops.append(stop)
        if len(stops) > 3 and stops[-3:].count(stop) == 3:
            return stops
    return stops


def keyboard_faults(page: Page) -> list[str]:
    """Interactive elements that Tab does not reach; focus that nothing shows, or that is behind something; places that
    do not let go of it."""
    stops = tab_stops(page)
    unreached: list[str] = page.evaluate(
        "reached => splitwrightChecks.unreached(reached)", [stop["number"] for stop in stops]
    )
    often = Counter(stop["number"] for stop in stops if stop["number"] >= 0)
    return [
        *(f"not reached: {name}" for name in unreached),
        *(f"focus is not to be seen: {stop['name']}" for stop in stops if not stop["is_shown"]),
        *(f"focus is covered: {stop['name']}" for stop in stops if stop["is_covered"]),
        *(f"does not let go: {stop['name']}" for stop in stops[-1:] if often[stop["number"]] > 2),
    ]


def width_faults(page: Page) -> list[str]:
    """Elements that make the page wider than its window; what scrolls in a box of its own is not among them."""
    page.evaluate(_SCRIPTS)
    found: list[str] = page.evaluate("() => splitwrightChecks.tooWide()")
    return found
