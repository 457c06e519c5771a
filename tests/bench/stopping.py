"""Stop commands while they work: seconds from ctrl+c until the command has ended, at several moments of its work.

    python tests/bench/stopping.py [BOXES]

The aim is half a second. ``assign`` of many boxes with scarce stock is at work in the solver most of the time.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from planned_shows import scarce_show

from fieldkit.show.writing import canonical

MOMENTS_S = (0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0)


def stopped_after(command: list[str], moment_s: float) -> str:
    """Say how long a command goes on after ctrl+c at a moment, and its exit status."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        return f"had ended by itself, {process.wait(moment_s)}"
    except subprocess.TimeoutExpired:
        begin = time.perf_counter()
        process.send_signal(signal.SIGINT)
    status = process.wait()
    return f"{time.perf_counter() - begin:.2f} s, exit status {status}"


def main() -> None:
    """Print a line a moment."""
    boxes = int(sys.argv[1]) if len(sys.argv) > 1 else 600
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scarce.toml"
        path.write_text(canonical(scarce_show(boxes, 5, 0)), encoding="utf-8")
        for moment_s in MOMENTS_S:
            command = [sys.executable, "-m", "fieldkit", "assign", str(path)]
            print(
                f"assign of {boxes} boxes, ctrl+c after {moment_s:g} s: {stopped_after(command, moment_s)}", flush=True
            )


if __name__ == "__main__":
    main()
