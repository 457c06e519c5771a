"""Measure `fieldkit check` of each sample against a bare interpreter that imports msgspec and tomllib.

    python tests/bench/startup.py

Medians of 15 starts each, with compiled modules on disk; the aim is a ratio under 3.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time

from fieldkit import samples


def median_ms(command: list[str], times: int = 15) -> float:
    """Give the median duration of a command in milliseconds, the first start left out."""
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    spans = []
    for _ in range(times + 1):
        start = time.perf_counter()
        subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, check=False)
        spans.append(1e3 * (time.perf_counter() - start))
    return statistics.median(spans[1:])


def main() -> None:
    """Print the bare start, then each sample with its ratio."""
    bare = median_ms([sys.executable, "-c", "import msgspec, tomllib"])
    print(f"{'bare interpreter':<20} {bare:6.1f} ms")
    for name in samples.names():
        path = str(samples.folder() / f"{name}.toml")
        took = median_ms([sys.executable, "-m", "fieldkit", "check", path])
        print(f"{name:<20} {took:6.1f} ms  × {took / bare:.2f}")


if __name__ == "__main__":
    main()
