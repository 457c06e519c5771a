"""Measure the assignment: seconds and gap for rigs of 12 to 1,200 boxes, and what `check` says of 200 random shows.

    python tests/bench/assign.py [SHOWS]

The amplifiers are made up and scarce: the stock holds little more than what is needed. Seconds are of the processor, as
they are and as they would be where ten million additions take 0.75 s, as on the machine that the aims are for; the
steps of the solver are the same on any machine. It prints, and asserts nothing.
"""

from __future__ import annotations

import random
import resource
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from planned_shows import library_show, random_show, scarce_show

from fieldkit.planning.assign.plan import assign
from fieldkit.planning.assign.solver import steps_done
from fieldkit.show.document import Show
from fieldkit.show.references import problems

SIZES = ((12, 2, 0.2), (60, 3, 1.0), (200, 4, 5.0), (600, 5, 8.0), (1200, 5, 15.0))
"""Boxes, amplifier models, and the aim in seconds."""

REFERENCE_S = 0.75


LOOP = compile("for _ in range(10_000_000): number += 1", "calibration", "exec")


def calibration_s() -> float:
    """Time ten million additions, as a line of Python outside any function does them."""
    begin = time.process_time()
    exec(LOOP, {"number": 0})  # noqa: S102  (our own line)
    return time.process_time() - begin


def sizes() -> None:
    """Time rigs of growing size, three of each."""
    print("boxes  models  seconds  there (aim)   steps   MB   gap   rack units  errors  warnings")
    for boxes, models, aim in SIZES:
        for seed in range(3):
            show = scarce_show(boxes, models, seed)
            scale = REFERENCE_S / calibration_s()
            begin, before = time.process_time(), steps_done()
            proposal = assign(show)
            seconds = time.process_time() - begin
            megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
            gap = proposal.rack_units - proposal.proof.minimum_rack_units
            open_goals = [stage.goal for stage in proposal.stages if stage.value > stage.minimum]
            warnings = sum(finding.severity == "warning" for finding in proposal.findings)
            print(
                f"{boxes:5}  {models:6}  {seconds:7.2f}  {seconds * scale:5.2f} ({aim:4})  {steps_done() - before:6}  "
                f"{megabytes:4}  {gap:4}  {proposal.rack_units:10}  {len(proposal.errors):6}  {warnings:8}  "
                f"undriven {len(proposal.undriven)}" + (f"  not proved: {', '.join(open_goals)}" if open_goals else ""),
                flush=True,
            )


def many(count: int, kind: str, make: Callable[[random.Random], Show]) -> None:
    """Plan random shows and count how it went."""
    tally: Counter[str] = Counter()
    rules: Counter[str] = Counter()
    slowest = 0.0
    for seed in range(count):
        show = make(random.Random(seed))
        begin = time.perf_counter()
        proposal = assign(show)
        slowest = max(slowest, time.perf_counter() - begin)
        if list(problems(proposal.show)):
            tally["with broken references"] += 1
        if proposal.holds:
            tally["planned without an error"] += 1
        elif proposal.short:
            tally["with boxes left silent, and said why" if proposal.undriven else "with errors, and said why"] += 1
        else:
            tally["NOT EXPLAINED"] += 1
            print(f"seed {seed}: {[(f.rule, f.where.id) for f in proposal.errors]} {proposal.undriven}")
        rules.update(finding.rule for finding in proposal.findings if finding.severity != "note")
    print(f"\n{count} random shows of {kind} models, slowest {slowest:.2f} s: {dict(tally)}")
    print(f"errors and warnings in the plans: {dict(rules.most_common())}")


if __name__ == "__main__":
    sizes()
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    many(number, "made-up", random_show)
    many(number, "demonstration", library_show)
