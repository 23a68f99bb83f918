"""Make docs/propose.svg, the terminal picture in the README, from a real run.

Run from the clone: .venv/bin/python docs/make_picture.py
"""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

from rich.console import Console
from rich.terminal_theme import DEFAULT_TERMINAL_THEME
from rich.text import Text

COLUMNS = 138
COMMAND = ["propose", "specs/three-kilns.toml", "--time-limit", "60"]
FRAME = """<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{ font-family: monospace; font-size: {char_height}px; line-height: {line_height}px; }}
.{unique_id}-title {{ font-size: 18px; font-weight: bold; font-family: sans-serif; }}
{styles}
</style>
<defs><clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}" /></clipPath>{lines}</defs>
<rect fill="#ffffff" stroke="#888888" x="1" y="1" width="{width}" height="{height}"/>
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}<g class="{unique_id}-matrix">{matrix}</g></g></svg>
"""


def main() -> int:
    """Run the command and write what it printed as a picture."""
    run = subprocess.run(
        [sys.executable, "-m", "splitwright", *COMMAND], capture_output=True, text=True, env={"COLUMNS": str(COLUMNS)}
    )
    if run.returncode:
        sys.stderr.write(run.stderr)
        return run.returncode
    console = Console(record=True, width=COLUMNS, file=io.StringIO(), highlight=False)
    console.print(Text(f"$ splitwright {' '.join(COMMAND)}", style="bold"))
    console.print(Text(run.stdout))
    svg = console.export_svg(theme=DEFAULT_TERMINAL_THEME, code_format=FRAME, unique_id="splitwright")
    Path(__file__).with_name("propose.svg").write_text(svg, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
