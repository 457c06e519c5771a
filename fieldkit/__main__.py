"""``python -m fieldkit``, and the entry point of the ``fieldkit`` command."""

from __future__ import annotations

import os
import sys
import threading


def main() -> int:
    """Run the command line."""
    from fieldkit.commands.cli import run

    status = run(sys.argv[1:])
    if any(thread.name == "solver" for thread in threading.enumerate()):
        # A solver that did not stop when it was told to: with the usual end the library under it aborts the process.
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        os._exit(status)
    return status


if __name__ == "__main__":
    sys.exit(main())
