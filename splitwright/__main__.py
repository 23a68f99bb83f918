"""The entry point: ``splitwright``, or ``python -m splitwright``."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and exit. Ctrl-C while it is still being loaded ends it as quietly as any other."""
    try:
        from splitwright.app import app

        app()
    except KeyboardInterrupt:
        sys.stderr.write("splitwright: interrupted\n")
        sys.exit(3)


if __name__ == "__main__":
    main()
