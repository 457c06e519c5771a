"""The figures behind the supply: supplies loaded again with numbers that remember where they came from.

It stands alone so that what only an explanation needs is imported when somebody asks for one.
"""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.formulas.figures import Figure, Traced, explain, traced
from fieldkit.rig.power.loaded import line_names
from fieldkit.rig.power.supplies import load_supplies
from fieldkit.rig.solve.evaluation import Rig


def supply_figures(rig: Rig, kind: str, name: str) -> Iterator[Figure]:
    """List the figures of a supply (``kind`` is ``supply``), or of a unit or box that is plugged in."""
    found = load_supplies(rig, traced, trace=True)
    if kind == "supply":
        item = found.supply(name)
        if item is None:
            return
        for line, amps, drop, share in zip(
            line_names(item.supply), item.line_a, item.drop_v, item.drop_share, strict=False
        ):
            yield explain(amps, f"load of {line}", "A")
            if isinstance(drop, Traced):
                yield explain(drop, f"drop of its feeder, {line}", "V")
            if isinstance(share, Traced):
                yield explain(share, f"drop from the origin, {line}", "")
        yield explain(item.neutral_a, "neutral", "A")
        return
    draw = next((draw for draw in found.draws if draw.id == name), None)
    if draw is not None:
        yield explain(draw.output_w, "average output", "W")
        yield explain(draw.power_w, "power from the mains", "W")
        if draw.shares_power_w < draw.power_w:
            yield explain(draw.shares_power_w, "the same if its sections share the programme", "W")
        yield explain(draw.apparent_va, "apparent power", "VA")
        if draw.current_a is not None:
            yield explain(draw.current_a, "current", "A")
