"""Walk through docs/tutorial.md and docs/howto, put in what the commands print, and make pictures from what they write.

Run from the clone: make tutorial (or .venv/bin/python docs/make_tutorial.py).
"""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tutorial_pictures import drawn, screenshots
from tutorial_steps import HOW_TO, PAGE, PICTURES, Walk, refreshed, walk

from sim.errors import InputError


def main() -> int:
    """Exit status: 0 all is made anew, 1 a command ended otherwise than the page says, 2 there is no browser."""
    page = PAGE.read_text(encoding="utf-8")
    with TemporaryDirectory() as temporary:
        tools, folder = Path(temporary, "tools"), Path(temporary, "clone")
        tools.mkdir()
        folder.mkdir()
        done = walk(page, folder, tools)
        if told_wrong(done):
            return 1
        PICTURES.mkdir(exist_ok=True)
        for name, text in drawn(done, folder).items():
            (PICTURES / name).write_text(text, encoding="utf-8")
        try:
            screenshots(folder, PICTURES)
        except InputError as error:
            sys.stderr.write(f"{error}\n")
            return 2
    PAGE.write_text(refreshed(page, done), encoding="utf-8")
    done_well = [renewed(path) for path in HOW_TO]  # each of them, whatever became of another
    return 0 if all(done_well) else 1


def renewed(path: Path) -> bool:
    """Bring the outputs of a how-to page up to date; whether its commands ended as it says."""
    page = path.read_text(encoding="utf-8")
    with TemporaryDirectory() as temporary:
        tools, folder = Path(temporary, "tools"), Path(temporary, "clone")
        tools.mkdir()
        folder.mkdir()
        done = walk(page, folder, tools)
    if told_wrong(done):
        return False
    path.write_text(refreshed(page, done), encoding="utf-8")
    return True


def told_wrong(done: Walk) -> bool:
    """Whether a command ended otherwise than its page says, which is told."""
    wrong = [one for one in done.ran if one.status != one.due]
    for one in wrong:
        sys.stderr.write(f"$ {one.command}\nexit status {one.status}, but {one.due} is due\n{one.printed}\n")
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main())
