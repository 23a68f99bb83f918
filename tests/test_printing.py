"""Pages to PDF: what is printed, and that nothing but a whole PDF ever takes the name."""

from __future__ import annotations

import os
import stat
import time
from pathlib import Path

import pytest
from pypdf import PdfReader

import splitwright.commands.sheet.printing as printing
from browser.needs import needed_browser
from faults import fault_of
from splitwright.commands.sheet.printing import browser_path, html_to_pdf

PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>Öfen</title>
<style>h2 { break-before: page } @media screen { .paper { display: none } }</style></head>
<body><h1>Kilns in a row</h1><p class="paper">on paper</p><p id="script">no script</p>
<h2>Charcoal</h2><p>shed</p>
<script>document.getElementById("script").textContent = "script ran";</script></body></html>
"""
PRINTS = """printf '%s\\n' %PDF-1.4 %%EOF > "$pdf"; """
"""Script of a browser that makes the least that may count as a PDF."""


@pytest.fixture
def fake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A program in the browser's place, which notes its switches and then runs what the test appends to it."""
    path = tmp_path / "fake" / "browser"
    path.parent.mkdir()
    path.write_text(
        '#!/bin/sh\nprintf "%s\\n" "$@" > "$(dirname "$0")/switches"\n'
        'for word in "$@"; do case "$word" in --print-to-pdf=*) pdf="${word#*=}";; esac; done\n'
    )
    path.chmod(0o755)
    monkeypatch.setenv(printing.BROWSER, str(path))
    return path


def does(fake: Path, script: str) -> None:
    with fake.open("a") as file:
        file.write(script)


def switches(fake: Path) -> list[str]:
    return (fake.parent / "switches").read_text().splitlines()


@pytest.mark.parametrize("as_file", [True, False], ids=["file", "text"])
def test_page_is_printed(tmp_path: Path, as_file: bool) -> None:
    needed_browser()
    html, pdf = tmp_path / "Öfen und mehr.html", tmp_path / "Öfen.pdf"
    html.write_text(PAGE, encoding="utf-8")
    before = sorted(os.listdir(tmp_path))
    html_to_pdf(html if as_file else PAGE, pdf)
    read = PdfReader(pdf)
    assert [page.extract_text().split("\n") for page in read.pages] == [
        ["Kilns in a row", "on paper", "script ran"],
        ["Charcoal", "shed"],
    ], "print style sheet, page breaks, scripts; no date, address or page number of the browser's own"
    assert read.metadata is not None
    assert read.metadata.title == "Öfen"
    assert sorted(os.listdir(tmp_path)) == sorted([*before, "Öfen.pdf"]), "nothing else is left"


def test_headings_become_the_outline(tmp_path: Path) -> None:
    needed_browser()
    html_to_pdf(PAGE, tmp_path / "a.pdf")
    first, below = PdfReader(tmp_path / "a.pdf").outline
    assert first["/Title"] == "Kilns in a row"
    assert [entry["/Title"] for entry in below] == ["Charcoal"]


def test_modes_links_and_older_files_as_elsewhere(fake: Path, tmp_path: Path) -> None:
    does(fake, PRINTS)
    (tmp_path / "real.pdf").write_text("old")
    (tmp_path / "real.pdf").chmod(0o604)
    (tmp_path / "link.pdf").symlink_to("real.pdf")
    html_to_pdf(PAGE, tmp_path / "link.pdf")
    assert (tmp_path / "link.pdf").is_symlink()
    assert (tmp_path / "real.pdf").read_text() == "%PDF-1.4\n%%EOF\n"
    assert stat.S_IMODE((tmp_path / "real.pdf").stat().st_mode) == 0o604


def test_browser_is_kept_off_the_network_and_out_of_the_home(fake: Path, tmp_path: Path) -> None:
    does(fake, PRINTS + 'echo "$XDG_CONFIG_HOME" > "$(dirname "$0")/home"')
    html_to_pdf(PAGE, tmp_path / "a.pdf")
    given = switches(fake)
    assert {"--headless", "--no-proxy-server", "--host-resolver-rules=MAP * ~NOTFOUND"} <= set(given)
    (profile,) = (word.partition("=")[2] for word in given if word.startswith("--user-data-dir="))
    assert Path(profile).parent == Path((fake.parent / "home").read_text().strip())
    assert Path(profile).parent.parent == tmp_path
    assert not Path(profile).parent.exists()


@pytest.mark.parametrize(("user", "is_unboxed"), [(0, True), (1000, False)])
def test_sandbox_is_off_for_root_alone(
    fake: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, user: int, is_unboxed: bool
) -> None:
    does(fake, PRINTS)
    monkeypatch.setattr(os, "geteuid", lambda: user)
    html_to_pdf(PAGE, tmp_path / "a.pdf")
    assert ("--no-sandbox" in switches(fake)) is is_unboxed


@pytest.mark.parametrize(
    ("script", "how"),
    [
        (PRINTS + "exit 7", "(exit status 7)"),
        ("exit 0", "(exit status 0)"),
        ('echo "<html>no PDF</html>%%EOF" > "$pdf"', "(exit status 0)"),
        ('echo "%PDF-1.4 cut" > "$pdf"', "(exit status 0)"),
        ("kill -9 $$", "(exit status -9)"),
    ],
)
def test_what_is_no_whole_pdf_takes_no_name(fake: Path, tmp_path: Path, script: str, how: str) -> None:
    does(fake, script)
    pdf = tmp_path / "a.pdf"
    pdf.write_text("an older file")
    fault = fault_of(lambda: html_to_pdf(PAGE, pdf))
    assert fault.startswith(f"--pdf: {fake} made no PDF {how}; install Chromium, or set SPLITWRIGHT_BROWSER")
    assert pdf.read_text() == "an older file"
    assert sorted(os.listdir(tmp_path)) == ["a.pdf", "fake"]


def test_browser_that_hangs_is_ended_with_all_its_processes(fake: Path, tmp_path: Path) -> None:
    does(fake, 'sleep 1000 & echo $! > "$(dirname "$0")/child"; wait')
    assert "made no PDF within 0.5 s" in fault_of(lambda: html_to_pdf(PAGE, tmp_path / "a.pdf", wait_s=0.5))
    assert os.listdir(tmp_path) == ["fake"]
    child = int((fake.parent / "child").read_text())
    for _ in range(200):  # an orphan stays in the table of processes until its new parent has taken note
        if is_gone(child):
            return
        time.sleep(0.05)
    pytest.fail("a process of the browser outlived it")


def is_gone(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return True
    return state == "Z"


def test_no_browser_is_told_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(printing.BROWSER, raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert fault_of(lambda: html_to_pdf(PAGE, tmp_path / "a.pdf")) == (
        "--pdf: found no browser that prints; install Chromium, or set SPLITWRIGHT_BROWSER to a browser of its family, "
        "or print the HTML file from any browser"
    )
    assert os.listdir(tmp_path) == []


def test_named_browser_that_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(printing.BROWSER, str(tmp_path / "no\nsuch"))
    fault = fault_of(browser_path)
    assert fault.startswith(f"SPLITWRIGHT_BROWSER: {tmp_path}/no\\u000asuch is no program that runs; install Chromium")


def test_program_that_cannot_start(fake: Path, tmp_path: Path) -> None:
    fake.write_text("#!/no/such/shell\n")
    fault = fault_of(lambda: html_to_pdf(PAGE, tmp_path / "a.pdf"))
    assert fault.startswith(f"--pdf: {fake} does not run (No such file or directory); install")


@pytest.mark.parametrize("name", printing.NAMES)
def test_each_name_on_the_path_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.delenv(printing.BROWSER, raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    (tmp_path / name).write_text("#!/bin/sh\n")
    (tmp_path / name).chmod(0o755)
    assert browser_path() == str(tmp_path / name)


def test_files_that_cannot_be_read_or_written(fake: Path, tmp_path: Path) -> None:
    does(fake, PRINTS)
    missing, folder = tmp_path / "none.html", tmp_path / "none" / "a.pdf"
    assert fault_of(lambda: html_to_pdf(missing, tmp_path / "a.pdf")) == f"{missing}: there is no such file"
    assert "its folder does not exist" in fault_of(lambda: html_to_pdf(PAGE, folder))
    assert "is a folder" in fault_of(lambda: html_to_pdf(PAGE, tmp_path))
