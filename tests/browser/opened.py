"""A page that is open in the browser, with all that it complained of and asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Dialog, Page, Request

HEIGHT: Final = 900
WAIT_MS: Final = 20_000
"""How long a wait inside the browser may take on a busy machine before the test fails."""
Opener = Callable[..., "Opened"]
"""``open_page(path, javascript=True, width=1280, media="screen", reduced_motion=None)``."""


@dataclass
class Opened:
    """``complaints``: errors and warnings of the console, uncaught errors, dialogs; ``requests``: every address that
    was asked for beside the file itself (data in the page itself is no request)."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def assert_quiet(self) -> None:
        """Nothing was complained of, nothing asked for."""
        assert self.complaints == []
        assert self.requests == []


def open_in(
    browser: Browser,
    path: Path,
    *,
    javascript: bool = True,
    width: int = 1280,
    media: str = "screen",
    reduced_motion: str | None = None,
) -> tuple[BrowserContext, Opened]:
    """The file in a context of its own: no other page's storage, windows or settings."""
    wanted: dict[str, Any] = {"java_script_enabled": javascript, "reduced_motion": reduced_motion}
    context = browser.new_context(viewport={"width": width, "height": HEIGHT}, **wanted)
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    opened, address = Opened(page), path.resolve().as_uri()

    def told(message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"}:
            opened.complaints.append(f"{message.type}: {message.text}")

    def asked(request: Request) -> None:
        if request.url.partition("#")[0] != address and not request.url.startswith("data:"):
            opened.requests.append(request.url)

    def dialog(found: Dialog) -> None:
        opened.complaints.append(f"{found.type}: {found.message}")
        found.dismiss()

    context.on("console", told)
    context.on("request", asked)
    context.on("dialog", dialog)
    context.on("weberror", lambda fault: opened.complaints.append(f"uncaught: {fault.error}"))
    if media != "screen":
        page.emulate_media(media=media)  # type: ignore[arg-type]
    page.goto(address)
    return context, opened
