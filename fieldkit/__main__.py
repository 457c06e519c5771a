"""``python -m fieldkit``, and the entry point of the ``fieldkit`` command."""

from __future__ import annotations

import sys


def main() -> int:
    """Run the command line."""
    from fieldkit.commands.cli import run

    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
