"""Fail-over of every unit of every sample show, and of a show of eight amplifiers: moves, zones failed, seconds.

Prints a table and asserts nothing: ``python tests/bench/failover.py``.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from failing_rigs import losing_show, unit
from rigs import box, run, step

from fieldkit import samples
from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.show.contents import all_units
from fieldkit.show.opening import open_show

ZONES = ("mains", "subs", "fill", "mon")


def eight_amplifiers():
    """Make a show of eight amplifiers of four channels, most of them in use, a line each."""
    text = "".join(unit(f"S{number}") for number in range(1, 9))
    count = 0
    for number in range(1, 9):
        for socket in "ABCD" if number % 4 else "AB":
            count += 1
            zone = ZONES[count % 4]
            model = "sub" if zone == "subs" else "top"
            text += box(f"B{count}", zone, model, 'side = "left"')
            text += run(f"W{count}", f"S{number}.{socket}", step("two", "5 m", f"B{count}"))
    return losing_show(text + '[[stock]]\nmodel = "four"\nowned = 9\n')


def main():
    """Print the table."""
    shows = {name: open_show(samples.folder() / f"{name}.toml").show for name in samples.names()}
    shows["eight amplifiers"] = eight_amplifiers()
    print(
        f"{'show':18} {'failed':8} {'silent':>6} {'moves':>5} {'stay silent':>11}  {'zones failed':22} proved seconds"
    )
    for name, show in shows.items():
        for item in all_units(show):
            began = time.perf_counter()
            found = fail_over(show, [item.id])
            took = time.perf_counter() - began
            boxes = len({one.load.box.id for one in found.silent})
            zones = ", ".join(dict.fromkeys(one.zone for one in found.stays_silent)) or "none"
            print(
                f"{name:18} {item.id:8} {boxes:6} {len(found.moves):5} {len(found.stays_silent):11}  {zones:22.22} "
                f"{'yes' if found.proved else 'no':6} {took:7.3f}"
            )


if __name__ == "__main__":
    main()
