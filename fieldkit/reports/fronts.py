"""Racks from the front, to scale, and each of their amplifiers in a line."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.racks import racks_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import RackUnit
from fieldkit.text.words import printable


def faces(rig: Rig, *, framed: bool = True) -> Iterator[str]:
    """Draw the front of each rack to scale, a line a rack unit, from the top down; the rest stands below."""
    units = rig.show_index.units.values()
    draws = supplies_of(rig).draws if rig.show.racks else ()  # a thousand boxes in no rack need no heat
    facts = {item.rack.id: item for item in racks_of(rig, draws)}
    for rack in rig.show.racks:
        built = rig.show_index.models.get(rack.as_built or "")
        inside = [unit for unit in units if unit.rack == rack.id]
        height = rack.units or getattr(built, "units", 0)
        yield printable(f"{rack.id}  {rack.as_built or ''}  {height or '?'} units")
        known = facts[rack.id]
        weight = f"{known.weight_kg:.0f} kg{' and more' if known.unweighed else ''}"
        yield f"{known.used} used, {weight}, {known.heat_w:.0f} W heat"
        yield from _face(rig, inside, height or 0, framed=framed)
        yield ""
    loose = [unit for unit in units if unit.rack is None]
    if loose:
        yield "in no rack"
        yield from (printable(f"  {unit.id}  {unit.model}", 38) for unit in loose)


def _face(rig: Rig, inside: list[RackUnit], height: int, *, framed: bool) -> Iterator[str]:
    """Draw one rack: what each rack unit holds, free ones too; what nobody gave a place stands below the frame."""
    at: dict[int, str] = {}
    below: list[str] = []
    for unit in inside:
        name = printable(f"{unit.id}  {unit.model}", 30)
        size = max(1, getattr(rig.show_index.models[unit.model], "units", 1))
        places = range(unit.unit, unit.unit + size) if unit.unit else range(0)
        if not places or any(place in at for place in places):
            below.append(f"  {name}: {'the place is taken' if places else 'no place said'}")
            continue
        at |= dict.fromkeys(places, "")
        at[places[-1]] = name
    frame, edge = (["+" + "-" * 34 + "+"], "|") if framed else ([], "")
    yield from frame
    for place in range(max(height, *at, 0) if at else height, 0, -1):
        text = at.get(place, ".")
        yield f"{edge}{place:>3} {text[:30]:<30}{edge}"
    yield from frame
    yield from below


def amplifier_heading(output: SolvedOutput, draw: Draw | None) -> str:
    """Write what is true of a whole amplifier: model, place, signals, supply and what it takes there."""
    unit = output.output.unit
    place = f"{unit.rack or 'no rack'}{f' unit {unit.unit}' if unit.rack and unit.unit else ''}"
    signals = (
        " ".join(dict.fromkeys(text for text in unit.inputs.values() if not text.startswith("=")))
        or "no signal planned"
    )
    supply = "no supply planned"
    if unit.supply:
        amps = f" {draw.current_a:.1f} A" if draw is not None and draw.current_a is not None else ""
        supply = f"{unit.supply}{f' L{unit.phase}' if unit.phase else ''}{amps}"
    return f"{unit.id}  {output.output.model.id}   {place}   {signals}   {supply}"
