"""Time the commands on shows that are large in one way only: 2,000 boxes on one run, 30,000 things of each kind.

    python tests/bench/large.py [THINGS]

Seconds of one run each, the start of the program included; the aims are 3 s for the run and 5 s for each kind. A kind
that takes far more than the others grows faster than its number.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from generated_show import MODELS

ZONE = '[[zones]]\nid = "Z"\n'
UNIT = '[[rack_units]]\nid = "A"\nmodel = "four"\n'
BOX = '[[boxes]]\nid = "B{n}"\nmodel = "top"\nzone = "Z"\n'
SUPPLY = '[[supplies]]\nid = "S{n}"\nvolts = "230 V"\nrating = "16 A"\n'

KINDS = {
    "zones": ("", '[[zones]]\nid = "Z{n}"\n'),
    "zones, each timed to the one before": (
        '[[zones]]\nid = "Z-1"\n',
        '[[zones]]\nid = "Z{n}"\ntimed_to = "Z{before}"\n',
    ),
    "zones with a box each": (
        "",
        '[[zones]]\nid = "Z{n}"\n[[boxes]]\nid = "B{n}"\nmodel = "top"\nzone = "Z{n}"\n',
    ),
    "boxes without runs": (ZONE, BOX),
    "runs without boxes": (
        ZONE + UNIT,
        '[[runs]]\nid = "W{n}"\nfrom = "A.A"\npath = [{{ cable = "four-core", length = "5 m" }}]\n',
    ),
    "cable models": ("", '[[cables]]\nid = "c{n}"\ncores = 4\narea = "4 mm²"\n'),
    "rack units": ("", '[[rack_units]]\nid = "A{n}"\nmodel = "four"\n'),
    "racks": ("", '[[racks]]\nid = "R{n}"\n'),
    "lengths in stock": ("", '[[stock]]\nmodel = "four-core"\nlength = "{some} m"\nowned = 3\n'),
    "items overdue": ("", '[[stock]]\nmodel = "top"\nhired = 1\ndue = 2020-01-01\n'),
    "supplies": ("", SUPPLY),
    "supplies, each fed from the one before": (
        SUPPLY.format(n=-1),
        '[[supplies]]\nid = "S{n}"\nvolts = "230 V"\nrating = "16 A"\nfed_from = "S{before}"\n',
    ),
    "remarks": ("", "# remark {n}\n"),
}


def one_run(boxes: int) -> str:
    """Write a show with so many boxes on one run."""
    path = "".join(f'    {{ cable = "four-core", length = "1 m", box = "B{n}" }},\n' for n in range(boxes))
    run = f'[[runs]]\nid = "W"\nfrom = "A.A"\npath = [\n{path}]\n'
    return "".join((MODELS, ZONE, UNIT, *(BOX.format(n=n) for n in range(boxes)), run))


def of_kind(head: str, thing: str, count: int) -> str:
    """Write a show with so many things of one kind."""
    return MODELS + head + "".join(thing.format(n=n, before=n - 1, some=1 + n % 400) for n in range(count))


def seconds(write: Callable[[str], Path], text: str, command: str) -> tuple[float, str]:
    """Give the seconds that a command takes for a show, and what it said where it could not be used."""
    path = write(text)
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "fieldkit", command, str(path), "--json"],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        check=False,
    )
    return time.perf_counter() - start, done.stderr.decode().strip()[-100:]


def main() -> None:
    """Print a line a show."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30_000
    with tempfile.TemporaryDirectory() as folder:

        def write(text: str) -> Path:
            path = Path(folder) / "large.toml"
            path.write_text(text, encoding="utf-8")
            return path

        for boxes in (500, 2_000):
            took, said = seconds(write, one_run(boxes), "lines")
            print(f"lines of {boxes} boxes on one run: {took:.1f} s  {said}", flush=True)
        for name, (head, thing) in KINDS.items():
            half, _ = seconds(write, of_kind(head, thing, count // 2), "check")
            took, said = seconds(write, of_kind(head, thing, count), "check")
            print(f"check of {count} {name}: {took:.1f} s, × {took / half:.1f} for × 2  {said}", flush=True)


if __name__ == "__main__":
    main()
