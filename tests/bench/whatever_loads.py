"""Whatever loads, every command, card and screen can do or refuses in one line: counts what does not.

    python tests/bench/whatever_loads.py [SECONDS] [SEED] [NAME]

Changes every key, row and table of the samples and of small shows one at a time, some in pairs, and mangles the text of
the samples; runs everything on what loads. Prints counts, each cause once with how to get it; asserts nothing.
"""

from __future__ import annotations

import asyncio
import random
import sys
import time
import warnings
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from mutated_shows import Fault, documents, mangled, to_toml, try_all, variants

from fieldkit import samples

KEYS = ("1", "2", "3", "4", "5", "6", "7", "8", "9", "g", "escape", "f4", "escape")
SLOW_SHARE, SCREENS_SHARE = 0.06, 0.04


def build_screens(file: str) -> None:
    """Open a show in the application and go to each screen."""
    from apps import app_on

    async def walk() -> None:
        app = app_on(file)
        async with app.run_test(size=(80, 24)) as pilot:
            for key in KEYS:
                await pilot.press(key)
                await pilot.pause()

    asyncio.run(walk())


def main() -> None:
    """Try for so many seconds."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 120.0
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    only = sys.argv[3] if len(sys.argv) > 3 else ""
    warnings.simplefilter("error")
    chance = random.Random(seed)
    shows = {name: show for name, show in documents().items() if only in name}
    streams = {name: variants(show, chance, 10_000) for name, show in shows.items()}
    texts = [path.read_text(encoding="utf-8") for path in sorted(samples.folder().glob("*.toml")) if only in path.stem]
    for name, show in shows.items():
        slow = len(show.get("boxes", ())) < 5
        report(try_all(to_toml(show), chance, slow=slow, screens=build_screens).faults, name)
    tried = loaded = bytewise = 0
    end = time.monotonic() + seconds
    while time.monotonic() < end and streams:
        name = chance.choice(list(streams))
        if texts and chance.random() < 0.3:
            text, said = mangled(chance.choice(texts), chance), "mangled"
            bytewise += 1
        else:
            pair = next(streams[name], None)
            if pair is None:
                del streams[name]
                continue
            said, document = pair
            text = to_toml(document)
        slow = chance.random() < SLOW_SHARE
        screens = build_screens if chance.random() < SCREENS_SHARE else None
        result = try_all(text, chance, slow=slow, screens=screens)
        tried, loaded = tried + 1, loaded + result.loads
        report(result.faults, f"{name}: {said}")
    print(f"{tried} shows ({bytewise} of them mangled text), {loaded} loaded; {len(SEEN)} causes of faults")


SEEN: set[str] = set()


def report(faults: list[Fault], said: str) -> None:
    """Print a cause the first time that it shows."""
    for fault in faults:
        if fault.cause not in SEEN:
            SEEN.add(fault.cause)
            print(f"\n=== {fault.cause}\n    {said}; {fault.what[:150]}", flush=True)
            print("    " + "\n    ".join(fault.error.strip().splitlines()[-8:])[:1500], flush=True)


if __name__ == "__main__":
    main()
