"""Press random keys of every screen alone and in bursts, and count where the outcome differs or the program ends.

    python tests/bench/bursts.py [WALKS] [KEYS A WALK] [FIRST SEED]

With 0 keys a walk it takes every key of one screen after the other, in bursts of two. It prints a line a walk that differs, and the counts; nothing is asserted.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
import time
import traceback
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent.parent)]

from bursting import difference, every_key, run, split, walk

from fieldkit import samples
from fieldkit.app.screens import SCREENS

SIZES = (2, 10)


def main() -> None:
    """Walk, and print."""
    walks, keys, first = (int(word) for word in (*sys.argv[1:], "8", "60", "0")[:3]) if sys.argv[1:] else (8, 60, 0)
    shows = [None, *(samples.folder() / f"{name}.toml" for name in samples.names())]
    modes = [mode for _, mode, _ in SCREENS]
    counts = {"same": 0, "different": 0, "ended": 0}
    begin = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        for seed in range(first, first + walks):
            sample = shows[seed % len(shows)]
            mode = modes[seed % len(modes)]
            size = SIZES[seed % len(SIZES)]
            bursts = split(walk(seed, keys, mode if seed % 3 else ""), size) if keys else every_key(mode)
            what = f"seed {seed}, {sample.stem if sample else 'no show'}, {f'bursts of {size}' if keys else mode}"
            try:
                folder = Path(name) / "run"
                alone = asyncio.run(run(folder, sample, bursts, alone=True))
                found = difference(alone, asyncio.run(run(folder, sample, bursts)), bursts)
            except Exception:  # noqa: BLE001  (whatever ends the program is what is counted)
                counts["ended"] += 1
                print(f"{what}: ended\n{traceback.format_exc(limit=-3)}", flush=True)
                continue
            counts["different" if found else "same"] += 1
            if found:
                print(f"{what}: {found}", flush=True)
    print(f"{walks} walks of {keys} keys in {time.monotonic() - begin:.0f} s: {counts}")


if __name__ == "__main__":
    main()
