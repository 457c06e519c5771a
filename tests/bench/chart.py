"""The chart of the demonstration library, its sets, and one cell with another cable: prints seconds, asserts nothing."""

from time import perf_counter

from fieldkit.gear import library
from fieldkit.gear.cabling import Cable
from fieldkit.planning.chart.cells import cell_of, chart
from fieldkit.planning.chart.question import Terms, library_of
from fieldkit.planning.chart.sets import sets_of
from fieldkit.units import Area


def timed(label, work, times=5):
    best = float("inf")
    for _ in range(times):
        start = perf_counter()
        result = work()
        best = min(best, perf_counter() - start)
    print(f"{label:<40}{1000 * best:8.1f} ms")
    return result


models = library_of([entry.model for entry in library.every() if not entry.own])
cells = timed("the whole demonstration library", lambda: chart(models, Terms()))
timed("its sets", lambda: sets_of(cells, Terms(), named=False))
one = cells[len(cells) // 2]
lead = Terms(cable=Cable(id="lead", cores=8, area=Area("2.5 mm²")), length_m=30.0)
timed("one cell with another cable", lambda: cell_of(one.amplifier, one.mode, one.candidate, models, lead))
