"""Walk through docs/tutorial.md, put in what the commands print, and make its pictures from what they write.

Run from the clone: make tutorial (or .venv/bin/python docs/make_tutorial.py).
"""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tutorial_pictures import drawn, screenshots
from tutorial_steps import PAGE, PICTURES, refreshed, walk

from sim.errors import InputError


def main() -> int:
    """Exit status: 0 all is made anew, 1 a command ended otherwise than the page says, 2 there is no browser."""
    page = PAGE.read_text(encoding="utf-8")
    with TemporaryDirectory() as temporary:
        tools, folder = Path(temporary, "tools"), Path(temporary, "clone")
        tools.mkdir()
        folder.mkdir()
        done = walk(page, folder, tools)
        wrong = [one for one in done.ran if one.status != one.due]
        for one in wrong:
            sys.stderr.write(f"$ {one.command}\nexit status {one.status}, but {one.due} is due\n{one.printed}\n")
        if wrong:
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
    return 0


if __name__ == "__main__":
    sys.exit(main())
