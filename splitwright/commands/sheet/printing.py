"""A page as PDF, printed by whatever browser of the Chromium family the machine has."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.files.writing import streamed_file

BROWSER: Final = "SPLITWRIGHT_BROWSER"
"""The environment variable that names a browser, by its path or its name on the PATH."""
NAMES: Final = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "chrome-headless-shell",
    "microsoft-edge", "microsoft-edge-stable", "brave-browser", "vivaldi",
)  # fmt: skip
"""What browsers of the family are called; they share the switches below."""
WAIT_S: Final = 120.0
"""A sheet takes a second or two; what takes longer than this hangs."""
OFFLINE: Final = (
    "--no-proxy-server", "--host-resolver-rules=MAP * ~NOTFOUND", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-quic", "--disable-domain-reliability",
    "--disable-extensions", "--disable-breakpad", "--disable-crash-reporter", "--no-first-run",
    "--no-default-browser-check",
)  # fmt: skip
"""No name is resolved and no proxy asked, so nothing leaves the machine, whatever a page holds."""
_PRINTING: Final = (
    "--headless", "--disable-gpu", "--no-pdf-header-footer", "--print-to-pdf-no-header",
    "--generate-pdf-document-outline",
)  # fmt: skip
"""Browsers before 2023 know the fourth for the third; each leaves alone what it does not know."""
_WHAT_HELPS: Final = (
    f"install Chromium, or set {BROWSER} to a browser of its family, or print the HTML file from any browser"
)


def html_to_pdf(html: str | Path, pdf: Path, *, wait_s: float = WAIT_S) -> None:
    """Print ``html`` (the text of a page, or the path of its file) to the file ``pdf``, whole or not at all.

    Raises InputError when there is no browser, when it makes no PDF within ``wait_s`` seconds, and when either file
    cannot be read or written. Nothing comes from the network, and nothing is kept of what the browser writes elsewhere.
    """
    browser = browser_path()
    if isinstance(html, Path) and not html.is_file():
        raise InputError("there is no such file", file=printable(str(html)))
    with streamed_file(pdf) as file, _workshop(pdf) as work:
        file.buffer.write(_printed(browser, _address(html, Path(work)), Path(work), wait_s))


def browser_path() -> str:
    """The browser that prints. Raises InputError when the machine has none."""
    if named := os.environ.get(BROWSER, ""):
        if found := shutil.which(named):
            return found
        raise InputError(f"{printable(named)} is no program that runs; {_WHAT_HELPS}", file=BROWSER)
    for name in NAMES:
        if found := shutil.which(name):
            return found
    raise InputError(f"found no browser that prints; {_WHAT_HELPS}", file="--pdf")


def _workshop(pdf: Path) -> TemporaryDirectory[str]:
    """Where the browser works: beside the PDF, since packaged browsers often see no temporary folder but their own."""
    folder = Path(os.path.realpath(pdf)).parent
    return TemporaryDirectory(prefix="splitwright-", dir=folder, ignore_cleanup_errors=True)


def _address(html: str | Path, work: Path) -> str:
    if isinstance(html, str):
        page = work / "page.html"
        page.write_text(html, encoding="utf-8", newline="\n")
        return page.as_uri()
    return html.resolve().as_uri()


def _printed(browser: str, address: str, work: Path, wait_s: float) -> bytes:
    """The PDF of the page at ``address``."""
    made = work / "page.pdf"
    status = _run([browser, *_switches(work), f"--print-to-pdf={made}", address], work, wait_s)
    found = made.read_bytes() if made.is_file() else b""
    if status != 0 or not (found.startswith(b"%PDF-") and b"%%EOF" in found[-1024:]):
        how = f"within {wait_s:g} s" if status is None else f"(exit status {status})"
        raise InputError(f"{printable(browser)} made no PDF {how}; {_WHAT_HELPS}", file="--pdf")
    return found


def _switches(work: Path) -> list[str]:
    as_root = hasattr(os, "geteuid") and os.geteuid() == 0
    unboxed = ["--no-sandbox"] if as_root else []  # its sandbox refuses to run as root, as in containers
    return [*_PRINTING, *OFFLINE, *unboxed, f"--user-data-dir={work / 'profile'}"]


def _run(command: list[str], work: Path, wait_s: float) -> int | None:
    """Exit status of the browser; None when it took too long. None of its processes outlives the call."""
    kept_here = {**os.environ, "XDG_CONFIG_HOME": str(work), "XDG_CACHE_HOME": str(work)}
    try:
        process = subprocess.Popen(
            command, env=kept_here, start_new_session=True,
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
    except OSError as error:
        fault = f"{printable(command[0])} does not run ({error.strerror}); {_WHAT_HELPS}"
        raise InputError(fault, file="--pdf") from None
    try:
        return process.wait(wait_s)
    except subprocess.TimeoutExpired:
        return None
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
