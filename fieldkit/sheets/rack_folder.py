"""The folder of one rack: what goes where in large type, its rear, its settings, and what to do if a unit fails."""

from __future__ import annotations

from fieldkit.rig.signal.account import Account, accounts
from fieldkit.sheets.host_settings import in_order
from fieldkit.sheets.if_it_fails import plan_blocks, unit_plans
from fieldkit.sheets.lid import LID_COLUMNS, lid_rows
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Page, RackDrawing, Table, Words
from fieldkit.sheets.places import RackPlace
from fieldkit.sheets.racks import loose_face, rack_face
from fieldkit.sheets.settings_rows import ROW_WORDS, setting_rows

FEW_ROWS = 4
"""So many rows of outputs, or fewer, leave room for the settings on their page, which is turned for them."""


def folder_keys(material: Material) -> tuple[str, ...]:
    """Name the folders of a show."""
    return tuple(place.key for place in material.rack_places)


def rack_folder(material: Material, key: str) -> Page:
    """Make the folder of one rack, or of a unit in none. Raises KeyError for a key that the show does not have."""
    place = {item.key: item for item in material.rack_places}[key]
    outputs = [output for unit in place.units for output in material.outputs_of_unit.get(unit, ())]
    rows = tuple(row for output in outputs for row in lid_rows(output, material))
    lid = Table(
        "lid",
        "Outputs",
        LID_COLUMNS,
        rows,
        compared=False,
        large=len(rows) > FEW_ROWS,
        empty="no output here drives a box",
    )
    found = _its_accounts(place, material)
    settings = setting_rows(found, outputs, material)
    upright: tuple[Block, ...] = (lid, _rear(place, material), *([settings.amplifiers] if outputs else []))
    blocks: list[Block] = [*upright]
    if found:
        blocks += [Words((ROW_WORDS,), "Settings"), settings.hosts, settings.notes]
    plans = [plan for plan in unit_plans(material.rig) if plan.unit in place.units]
    blocks += plan_blocks(plans, "If it fails")
    across = len(upright) if len(rows) > FEW_ROWS else 0
    return Page(key, place.title, tuple(blocks), across=across, repeats=True)


def _rear(place: RackPlace, material: Material) -> RackDrawing:
    rack = material.rig.show_index.racks.get(place.rack)
    if rack is not None:
        return rack_face(rack, material, rear=True)
    return loose_face(material.rig.show_index.units[place.units[0]], material)


def _its_accounts(place: RackPlace, material: Material) -> tuple[Account, ...]:
    """Pick the settings that are made here: of hosts in this rack, and of its outputs that nothing hosts."""
    mine = [one for one in accounts(material.rig) if one.host.partition(".")[0] in place.units]
    return in_order(tuple(mine), material)
