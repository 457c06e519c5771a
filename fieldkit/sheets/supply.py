"""The mains on paper: what each supply carries, what is plugged where, the order of switching, what to meter first."""

from __future__ import annotations

from fieldkit.planning.supply.switching import switch_on_order
from fieldkit.reports.supply import CAUTIONS, differs_by_shares, first_plug, generator_text, surge_text
from fieldkit.rig.power.loaded import LoadedSupplies, LoadedSupply, limit_a, line_names
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.racks import racks_of
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Cell, Column, Items, Page, Table, Words
from fieldkit.sheets.supply_tree import supply_tree
from fieldkit.text.style import Style

EMPTY = "the supply is not planned"


def supply_page(material: Material) -> Page:
    """Make the page."""
    found = supplies_of(material.rig)
    nfpa = material.show.about.electrical_rules == "nfpa"
    meter = Items(tuple((text,) for text in first_plug(found, Style(), nfpa=nfpa)), "Meter before the first plug")
    tree = supply_tree(found, material)
    blocks: list[Block] = [Words(CAUTIONS), meter, *([tree] if tree.marks else []), _supplies(found, material)]
    blocks += [*([_together(found)] if found.loaded else []), _plugs(found), _order(found), _heat(found, material)]
    return Page("supply", "Supply", tuple(blocks))


def _supplies(found: LoadedSupplies, material: Material) -> Table:
    """Make a row for each line of each supply; values of the whole supply stand in its first row."""
    columns = (
        Column("supply"), Column("fed from"), Column("feeder"), Column("phase"), Column("load", "A"),
        Column("may carry", "A"), Column("neutral", "A"), Column("drop", "%"), Column("leakage", "mA"),
    )  # fmt: skip
    nfpa = material.show.about.electrical_rules == "nfpa"
    rows: list[tuple[Cell, ...]] = []
    for item in found.loaded:
        most = limit_a(item.supply, nfpa=nfpa)
        for place, name in enumerate(line_names(item.supply)):
            way = (item.supply.fed_from or _origin(item), _feeder(item, material)) if place == 0 else ("", "")
            head = (item.supply.id, *way)
            neutral = item.neutral_a if item.supply.phases == 3 and place == 0 else None
            share = 100.0 * item.drop_share[place]
            leak = 1000.0 * item.leakage_a if place == 0 else None
            rows.append((*head, name, item.line_a[place], most, neutral, share, leak))
    title = "Supplies at the duty of the programme"
    return Table("supply-loads", title, columns, tuple(rows), keys=(0, 3), grouped=True, empty=EMPTY)


def _together(found: LoadedSupplies) -> Items:
    """Say what each supply takes all at once, and which generator the load asks for."""
    style = Style()
    items = (
        (f"{item.supply.id}: {surge_text(item, style)}", *generator_text(item, found, style)) for item in found.loaded
    )
    return Items(tuple(items), "All on at once, and generators")


def _origin(item: LoadedSupply) -> str:
    return f"generator {item.supply.generator.prime}" if item.supply.generator else "the house"


def _feeder(item: LoadedSupply, material: Material) -> str:
    feeder = item.supply.feeder
    return f"{material.length(feeder.length)} of {feeder.area}" if feeder else ""


def _plugs(found: LoadedSupplies) -> Table:
    columns = (
        Column("supply"), Column("unit"), Column("phase"), Column("current", "A"), Column("power", "W"),
        Column("if sections share", "W"), Column("leakage", "mA"), Column("assumed"),
    )  # fmt: skip
    rows = tuple(
        (
            draw.supply or "on no supply",
            draw.id,
            f"L{draw.phase}" if draw.phase else "",
            draw.current_a,
            draw.power_w,
            draw.shares_power_w if differs_by_shares(draw) else None,
            1000.0 * draw.leakage_a if draw.leakage_a is not None else None,
            ", ".join(draw.assumed),
        )
        for draw in found.draws
    )
    return Table("supply-plugs", "What is plugged where", columns, rows, keys=(1,), grouped=True, empty="no unit yet")


def _order(found: LoadedSupplies) -> Table:
    columns = (Column("step"), Column("unit"), Column("kind"), Column("supply"), Column("surge", "A"))
    rows = tuple(
        (step.number, step.draw.id, step.draw.kind, step.draw.supply or "on no supply", step.surge_a)
        for step in switch_on_order(found)
    )
    title = "Switch on: desk and sources first, then one at a time; switch off backwards"
    return Table("supply-order", title, columns, rows, keys=(1,), empty="no unit yet")


def _heat(found: LoadedSupplies, material: Material) -> Table:
    columns = (
        Column("rack"), Column("units"), Column("used"), Column("weight", material.mass_unit),
        Column("heat", "W"), Column("heat", "BTU/h"),
    )  # fmt: skip
    rows = tuple(
        (
            item.rack.id,
            item.units,
            item.used,
            material.mass(item.weight_kg) if item.weight_kg else None,
            item.heat_w,
            item.heat_btu_per_h,
        )
        for item in racks_of(material.rig, found.draws)
    )
    return Table("supply-racks", "Racks: weight, and heat at the duty of the programme", columns, rows, empty="no rack")
