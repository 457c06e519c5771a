"""Measure evaluation with findings: whole, after one edit, and the growth with size. Prints medians and ratios.

    python tests/bench/evaluation.py [--largest 10000]

Medians of several runs on the machine at hand, in time of this process alone, so that other work on the machine counts
little; the aims are one edit of 1,000 boxes within 16 ms and linear growth.
"""

from __future__ import annotations

import gc
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from generated_show import generated

from fieldkit.checks.checking import check
from fieldkit.rig.solve.evaluation import Evaluator
from fieldkit.show.edits import changed, find, with_thing


def median_ms(action: Callable[[], object], times: int) -> float:
    """Give the median duration of an action in milliseconds."""
    spans = []
    for _ in range(times):
        gc.collect()
        start = time.process_time()
        action()
        spans.append(1e3 * (time.process_time() - start))
    return statistics.median(spans)


def measure(boxes: int) -> tuple[int, float, float, float, float, float]:
    """Give the number of lines, and the milliseconds of a whole evaluation, its check, an edit of a run, of a box, of a knob."""
    show = generated(boxes)
    rig = Evaluator().evaluate(show)
    whole = median_ms(lambda: Evaluator().evaluate(show), 5)
    rigs = iter([Evaluator().evaluate(show) for _ in range(5)])
    checked = median_ms(lambda: check(next(rigs)), 5)
    evaluator = Evaluator()
    check(evaluator.evaluate(show))
    lengths = iter(range(1, 100))

    def edit() -> None:
        run = find(show, "runs", "W1")
        step = changed(run.path[0], length=f"{next(lengths)}.5 m")
        edited = with_thing(show, "runs", changed(run, path=(step, *run.path[1:])))
        check(evaluator.evaluate(edited))

    def edit_box() -> None:
        box = changed(find(show, "boxes", "B3"), delay=f"{next(lengths)} ms")
        check(evaluator.evaluate(with_thing(show, "boxes", box)))

    def edit_knob() -> None:
        unit = changed(find(show, "rack_units", "A0"), attenuators={"1": f"-{next(lengths)} dB"})
        check(evaluator.evaluate(with_thing(show, "rack_units", unit)))

    edits = (median_ms(each, 15) for each in (edit, edit_box, edit_knob))
    return len(rig.lines), whole, checked, *edits


def main() -> None:
    """Print one row a size, and the growth from the smallest to the largest."""
    largest = int(sys.argv[sys.argv.index("--largest") + 1]) if "--largest" in sys.argv else 10_000
    sizes = [size for size in (10, 100, 1_000, 10_000) if size <= largest]
    print(
        f"{'boxes':>7} {'lines':>7} {'evaluate ms':>12} {'check ms':>10} {'one edit ms':>12} {'of a box ms':>12} {'of a knob ms':>13}"
    )
    rows = []
    for size in sizes:
        lines, whole, checked, edit, edit_box, edit_knob = measure(size)
        rows.append((size, whole + checked, edit))
        times = f"{whole:>12.1f} {checked:>10.1f} {edit:>12.2f} {edit_box:>12.2f} {edit_knob:>13.2f}"
        print(f"{size:>7} {lines:>7} {times}")
    first, last = rows[0], rows[-1]
    if last is not first:
        print(
            f"from {first[0]} to {last[0]} boxes (×{last[0] / first[0]:.0f}): evaluate and check "
            f"×{last[1] / first[1]:.0f}, one edit ×{last[2] / first[2]:.0f}"
        )


if __name__ == "__main__":
    main()
