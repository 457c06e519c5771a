"""The mains as a tree: each supply below what feeds it, each of its phases as a bar of what it may carry."""

from __future__ import annotations

from fieldkit.rig.power.loaded import LoadedSupplies, LoadedSupply, limit_a, line_names
from fieldkit.sheets.diagram import COLUMNS
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Bar, Diagram, DrawnLine, Lettering, Mark
from fieldkit.text.widths import clipped
from fieldkit.units import format_value

BAR_AT, BAR_WIDE = 38, 20
INDENT = 2


def supply_tree(found: LoadedSupplies, material: Material) -> Diagram:
    """Draw it; a supply that is fed from itself in a ring stands alone."""
    below: dict[str, list[LoadedSupply]] = {}
    for item in found.loaded:
        below.setdefault(item.supply.fed_from or "", []).append(item)
    tree = _Tree(material)
    for item in below.get("", []):
        tree.grow(item, below, 0)
    for item in found.loaded:
        tree.grow(item, {}, 0)
    return Diagram(
        "Supply tree: load of each phase at the duty of the programme",
        tree.y,
        tuple(tree.marks),
        "no supply is planned",
    )


class _Tree:
    """Grows from top to bottom."""

    def __init__(self, material: Material) -> None:
        self.nfpa = material.show.about.electrical_rules == "nfpa"
        self.material = material
        self.marks: list[Mark] = []
        self.done: set[str] = set()
        self.y = 0

    def grow(self, item: LoadedSupply, below: dict[str, list[LoadedSupply]], depth: int) -> None:
        """Draw a supply, what hangs on it, and the supplies that it feeds."""
        supply = item.supply
        if supply.id in self.done:
            return
        self.done.add(supply.id)
        x, top = min(INDENT * depth, 12), self.y
        if depth:
            self.marks.append(DrawnLine(((x - 1, top - 1), (x - 1, top), (x, top))))
        feeder = f", {self.material.length(supply.feeder.length)} of {supply.feeder.area}" if supply.feeder else ""
        head = f"{supply.id}  {supply.rating}{feeder}"
        self.marks.append(Lettering(x + 1, self.y, clipped(head, BAR_AT - x - 7), bold=True))
        most = limit_a(supply, nfpa=self.nfpa)
        for place, name in enumerate(line_names(supply)):
            load_a = item.line_a[place]
            self.marks.append(Lettering(BAR_AT - 5, self.y, clipped(name, 4)))
            self.marks.append(Bar(BAR_AT, self.y, BAR_WIDE, round(load_a / most, 2) if most else 2.0))
            said = f"{format_value(load_a, 'A', 3)} of {format_value(most, 'A', 3)}"
            self.marks.append(Lettering(BAR_AT + BAR_WIDE + 1, self.y, clipped(said, COLUMNS - BAR_AT - BAR_WIDE - 1)))
            self.y += 1
        units = " ".join(draw.id for draw in item.draws)
        if units:
            self.marks.append(Lettering(x + 3, self.y, clipped(units, COLUMNS - x - 3)))
            self.y += 1
        for other in below.get(supply.id, []):
            self.grow(other, below, depth + 1)
