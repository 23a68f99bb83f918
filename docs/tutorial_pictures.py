"""The pictures of docs/tutorial.md, from the files and outputs of a walk through it."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Final
from xml.etree.ElementTree import Element

from make_picture import COLUMNS, FRAME
from playwright.sync_api import Page, sync_playwright
from rich.console import Console
from rich.terminal_theme import DEFAULT_TERMINAL_THEME
from rich.text import Text
from tutorial_steps import Walk

from sim.world.files.reading import load_layout
from sim.world.recording import record
from splitwright.commands.sheet.printing import browser_path
from splitwright.drawing.axonometry import axonometry
from splitwright.drawing.delivered_chart import delivered_chart
from splitwright.drawing.layer_plan import layer_plan
from splitwright.drawing.standalone import standalone
from splitwright.drawing.svg import el
from splitwright.drawing.wave_view import wave_view
from splitwright.page.assembly import static
from splitwright.words import english

LAYOUT: Final = "build/kilns/layout-1.plan"
SHOWN_TICK: Final = 16
"""Where the time bar of the replay stands on the picture: lumps are on their way, and a node is locked."""
LOAD: Final = 4
"""Items whose way the wave view shows: two a kiln."""
TICKED: Final = 3
"""Steps of the build order that are ticked on the picture."""
RULE: Final = re.compile(r"^(?=\S)[^{}@]*\.(?:waves|delivered|time-axis|cursor)\b[^{}]*\{[^}]*\}", re.MULTILINE)
"""A rule of a style sheet that is about the wave view or the chart."""
SHOTS: Final = ("compare.png", "sheet-order.png", "sheet-replay.png")
"""Pictures that a browser makes; another version of it makes other bytes."""


def drawn(done: Walk, folder: Path) -> dict[str, str]:
    """The SVG pictures, by name; the same in every run."""
    layout, words = load_layout(folder / LAYOUT), english()
    recording = record(layout, loads={"feed": LOAD})
    return {
        "propose.svg": _terminal(done),
        **{f"layer-{z}.svg": standalone(layer_plan(layout, z, words)) for z in (0, 1)},
        "view.svg": standalone(axonometry(layout, words)),
        "waves.svg": standalone(_styled(wave_view(recording, words))),
        "delivered.svg": standalone(_styled(delivered_chart(recording, words))),
    }


def _terminal(done: Walk) -> str:
    """The table that `propose` printed, and its first layout."""
    ran = next(one for one in done.ran if one.command.startswith("splitwright propose"))
    console = Console(record=True, width=COLUMNS, file=io.StringIO(), highlight=False)
    console.print(Text(f"$ {ran.command}", style="bold"))
    console.print(Text(ran.printed.partition("\nShown:")[0].rstrip()))
    return console.export_svg(theme=DEFAULT_TERMINAL_THEME, code_format=FRAME, unique_id="splitwright")


def _styled(picture: Element) -> Element:
    """The picture with those styles of the replay that are about it."""
    picture.insert(0, el("style", "\n".join(RULE.findall(static("replay.css")))))
    return picture


def screenshots(folder: Path, into: Path) -> None:
    """What a browser shows of the pages. Raises InputError where there is none."""
    path = browser_path()
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        try:
            wide = browser.new_page(viewport={"width": 900, "height": 620})
            wide.goto((folder / "build/kilns/compare.html").resolve().as_uri())
            _show(wide, "#cards-h")
            wide.screenshot(path=into / "compare.png")
            wide.goto((folder / "kilns.html").resolve().as_uri())
            wide.locator(".replay-time input").fill(str(SHOWN_TICK))
            _show(wide, "#replay-h")
            wide.screenshot(path=into / "sheet-replay.png")
            phone = browser.new_page(viewport={"width": 390, "height": 720})
            phone.goto((folder / "kilns.html").resolve().as_uri())
            _show_order(phone)
            phone.screenshot(path=into / "sheet-order.png")
        finally:
            browser.close()


def _show_order(page: Page) -> None:
    boxes = page.locator("#order input[type=checkbox]")
    for i in range(TICKED):
        boxes.nth(i).check()
    _show(page, "#order-h")


def _show(page: Page, heading: str) -> None:
    page.locator(heading).evaluate("heading => heading.scrollIntoView()")
