"""Measure the pages of a large show: making them, and writing each format. Prints seconds and sizes.

python tests/bench/sheets.py [--boxes 1000]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from generated_show import generated

from fieldkit.sheets.collection import make_pages
from fieldkit.sheets.folder import FORMATS, files_of
from fieldkit.sheets.material import material_of


def main() -> None:
    """Print one row a step."""
    boxes = int(sys.argv[sys.argv.index("--boxes") + 1]) if "--boxes" in sys.argv else 1_000
    show = generated(boxes)
    start = time.perf_counter()
    material = material_of(show)
    print(f"{boxes} boxes: solved and checked in {time.perf_counter() - start:.2f} s")
    start = time.perf_counter()
    pages = make_pages(material)
    print(f"pages made in {time.perf_counter() - start:.2f} s")
    for name in FORMATS:
        start = time.perf_counter()
        size = sum(len(text.encode()) for text in files_of(pages, [name]).values())
        print(f"{name}: {time.perf_counter() - start:.2f} s, {size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
