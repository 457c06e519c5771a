"""Pictures of the screens for the README, made by the program itself.

python -m fieldkit.app.pictures sample_shows/pictures
"""

from __future__ import annotations

import asyncio
import re
import sys
from pathlib import Path

from fieldkit import samples
from fieldkit.app.application import FieldkitApp
from fieldkit.app.terminal.capabilities import Terminal
from fieldkit.show.opening import open_show

PICTURES: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("overview", "mistakes", ()),
    ("racks", "open_air", ("4", "down", "down")),
    ("zones", "open_air", ("3",)),
    ("why", "open_air", ("4", "down", "down", "e")),
    ("card", "open_air", ("g", "s", "l", "1", "enter")),
    ("supply", "open_air", ("5",)),
    ("chart", "school_musical", ("2", "v")),
    ("rig-check", "practice", ("7",)),
    ("sheets", "open_air", ("8",)),
    ("inventory", "mistakes", ("2",)),
    ("one-more-wedge", "open_air", ("3", "a", "x", "minus", "3", "enter")),
)
"""Name of the picture, sample, keys that lead there."""


async def take(folder: Path) -> None:
    """Press the keys of each picture, and write what is on the screen as SVG."""
    for name, sample, keys in PICTURES:
        app = FieldkitApp(
            open_show(samples.folder() / f"{sample}.toml"), Terminal(remote=False, colour=True, ascii_only=False)
        )
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            for key in keys:
                await pilot.press(key)
                await app.keys_done()
                await pilot.pause()
            # The picture must not fetch a font from anywhere: any monospaced one of the reader's does.
            svg = re.sub(
                r"@font-face \{.*?\}|<!--.*?-->",
                "",
                app.export_screenshot(title=f"fieldkit: {sample}"),
                flags=re.DOTALL,
            )
        (folder / f"{name}.svg").write_text(svg, encoding="utf-8")


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    asyncio.run(take(target))
