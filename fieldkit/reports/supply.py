"""The mains as text: supplies phase by phase with bars, drop, leakage, heat, switching, what to meter first."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from fieldkit.formulas import consumption, mains
from fieldkit.planning.supply.switching import switch_on_order
from fieldkit.reports.text import WIDTH
from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.loaded import LoadedSupplies, LoadedSupply, generator_a, limit_a, line_names, load_shares
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.racks import racks_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.text.style import Style
from fieldkit.text.words import printable

BAR = 20
ALIKE = 0.95
"""Watts by shares that are nearer to those counted are not worth a word."""
FULL, PART, EMPTY = "█", "▌", "·"

CAUTIONS = (
    "A licensed electrician connects feeders, distribution and generators; local codes rule; this program advises.",
    "Never lift a protective earth, never bridge a residual-current device; press its test button before all else.",
    "Meter with a tester made for mains, one hand away, somebody beside you.",
)
"""Said wherever mains are planned."""


def bar(share: float, width: int = BAR, *, ascii_only: bool = False) -> str:
    """Draw a share of a whole; what is over the whole ends in a mark of its own, so that no colour is needed."""
    full, part, empty = ("#", "+", ".") if ascii_only else (FULL, PART, EMPTY)
    if share > 1.0 + 1e-9:
        return full * (width - 1) + ">"
    halves = round(2 * width * share)
    drawn = full * (halves // 2) + (part if halves % 2 else "")
    return drawn + empty * (width - len(drawn))


def supply_text(rig: Rig, style: Style) -> Iterator[str]:
    """Print the page: the load of every supply, what is plugged where, the order, what to meter, cautions."""
    if not rig.show.supplies:
        yield "supply: not planned"
        return
    found = supplies_of(rig)
    yield "before the first plug"
    for text in first_plug(found, style, nfpa=rig.show.about.electrical_rules == "nfpa"):
        yield from _item(text, style)
    yield ""
    yield from supplies_text(rig, found, style)
    yield ""
    yield from racks_text(rig, found, style)
    yield from order_text(found, style)
    yield ""
    for text in CAUTIONS:
        yield from textwrap.wrap(style.plain(text), WIDTH)


def supplies_text(rig: Rig, found: LoadedSupplies, style: Style) -> Iterator[str]:
    """Print each supply, with a bar a phase."""
    nfpa = rig.show.about.electrical_rules == "nfpa"
    for item in found.loaded:
        yield from textwrap.wrap(heading(item, style), WIDTH, subsequent_indent="  ")
        most = limit_a(item.supply, nfpa=nfpa)
        for name, amps, share in zip(line_names(item.supply), item.line_a, load_shares(item, nfpa=nfpa), strict=False):
            drawn = bar(share, ascii_only=style.ascii_only) if style.bars else ""
            yield f"  {name:<6} {style.value(amps, 'A'):>8} of {style.value(most, 'A'):<8} {drawn}".rstrip()
        for text in facts(item, style):
            yield from _item(text, style)
        for text in generator_text(item, found, style):
            yield from _item(text, style)
        for draw in item.draws:
            line = f" L{draw.phase}" if item.supply.phases == 3 and draw.phase else ""
            assumed = f" ({', '.join(draw.assumed)} assumed)" if draw.assumed else ""
            current = style.value(draw.current_a, "A")
            text = f"{draw.id}{line}: {current}, {power_text(draw, style)}, {draw.model}{assumed}"
            yield from _item(text, style)
        yield ""
    if found.unplanned:
        names = ", ".join(draw.id for draw in found.unplanned)
        yield from textwrap.wrap(style.plain(f"on no supply: {names}"), WIDTH)
        yield ""
    lines = ", ".join(f"L{place} {style.value(amps, 'A')}" for place, amps in enumerate(found.totals, start=1))
    power = sum(draw.power_w for draw in found.draws)
    heat = sum(draw.heat_w for draw in found.draws)
    btu = style.value(consumption.heat_in_btu(heat), "BTU/h", 3)
    sums = f"all together: {lines}; {style.value(power, 'W')}, of which heat {style.value(heat, 'W')} ({btu})"
    yield from textwrap.wrap(sums, WIDTH, subsequent_indent="  ")


def generator_text(item: LoadedSupply, found: LoadedSupplies, style: Style) -> Iterator[str]:
    """Say which size of generator the load of a supply asks for, and whether its own one is too large."""
    for asked_va, prime_va in ((asked, prime) for own, asked, prime in found.generators if own is item):
        size = f"its load asks for a generator of {style.value(asked_va, 'VA')} prime; this one has"
        small = ": too small" if asked_va > prime_va else ""
        yield f"{size} {style.value(prime_va, 'VA')}{small or _too_large(item, prime_va)}"


def surge_text(item: LoadedSupply, style: Style) -> str:
    """Say what a supply takes when all on it is switched on at once: of three phases the fullest."""
    if item.inrush_unknown and not item.inrush_a:
        return "all on at once: not known"
    fullest = " on the fullest phase" if item.supply.phases == 3 else ""
    unsaid = f", {item.inrush_unknown} not known" if item.inrush_unknown else ""
    return f"all on at once {style.value(item.inrush_a, 'A')}{fullest}{unsaid}"


MINIMUM_OF_PRIME = 0.3
"""Share of its prime rating under which a diesel generator should not run for hours. Common practice, no source."""


def _too_large(item: LoadedSupply, prime_va: float) -> str:
    """Say that a generator is too large for what hangs on it."""
    share = item.apparent_va / prime_va
    if not 0.0 < share < MINIMUM_OF_PRIME:
        return ""
    return f": too large, it runs at {100.0 * share:.0f} %; a diesel soots up under 30 %, take a smaller one"


def heading(item: LoadedSupply, style: Style) -> str:
    """Name a supply: volts, rating, phases, and what feeds it."""
    supply = item.supply
    kind = "three-phase" if supply.phases == 3 else "one phase"
    words = [f"{supply.id}: {supply.volts} {supply.rating} {kind}", "private" if item.private else "public"]
    if supply.fed_from:
        words.append(f"fed from {supply.fed_from}")
    if supply.feeder:
        words.append(f"{supply.feeder.length} of {supply.feeder.area}")
    if supply.generator:
        words.append(f"generator {supply.generator.prime}")
    return style.plain(", ".join(words))


def facts(item: LoadedSupply, style: Style) -> Iterator[str]:
    """Say neutral, generator, drop, leakage, surge and heat of a supply."""
    if item.supply.phases == 3:
        guess = " (guessed from power factors)" if item.third_guessed else ""
        whole, third = style.value(item.neutral_a, "A"), style.value(item.neutral_third_a, "A")
        first = style.value(item.neutral_first_a, "A")
        yield f"neutral {whole}: third harmonics{guess}, which add, {third}; unbalance {first}"
    if item.supply.generator:
        a_phase = " a phase" if item.supply.phases == 3 else ""
        yield f"its generator gives {style.value(generator_a(item.supply), 'A')}{a_phase}"
    drop = style.value(max(item.drop_v), "V") if any(item.drop_v) else "no feeder given"
    yield f"drop {drop}; from the origin {100.0 * item.worst_drop_share:.1f} %"
    unknown = f", {item.leakage_unknown} not known" if item.leakage_unknown else ""
    watts, btu = style.value(item.heat_w, "W"), style.value(consumption.heat_in_btu(item.heat_w), "BTU/h", 3)
    leaked = style.value(1000.0 * item.leakage_a, "mA")
    yield f"leakage {leaked}{unknown}; {surge_text(item, style)}; heat {watts} ({btu})"


def differs_by_shares(draw: Draw) -> bool:
    """Tell whether a unit would take clearly less if the sections of its boxes shared one programme."""
    return draw.shares_power_w < draw.power_w * ALIKE


def power_text(draw: Draw, style: Style) -> str:
    """Say the watts that a unit is counted with, and those by the shares of its sections where they are fewer."""
    power = style.value(draw.power_w, "W")
    if not differs_by_shares(draw):
        return power
    return f"{power} ({style.value(draw.shares_power_w, 'W')} if its sections share the programme)"


def supply_card(rig: Rig, name: str, style: Style) -> Iterator[str]:
    """Write the card of a supply: what it carries, what it feeds, what to do next; nothing for a name nobody has."""
    item = supplies_of(rig).supply(name)
    if item is None:
        return
    yield heading(item, style).partition(": ")[2]
    loads = zip(line_names(item.supply), item.line_a, strict=False)
    yield ", ".join(f"{line} {style.value(amps, 'A')}" for line, amps in loads) + f" of {item.supply.rating}"
    yield from facts(item, style)
    yield from (f"  feeds {other}" for other in item.feeds)
    yield from (f"  {draw.id}: {style.value(draw.current_a, 'A')}" for draw in item.draws)
    yield ""
    yield "next: see its breaker and its residual-current device; meter with a tester made for mains"
    if item.supply.note:
        yield f"note: {item.supply.note}"


def racks_text(rig: Rig, found: LoadedSupplies, style: Style) -> Iterator[str]:
    """Print units, weight and heat of each rack."""
    for item in racks_of(rig, found.draws):
        units = f"{item.used} of {item.units or '?'} units"
        more = f" and {', '.join(item.unweighed)}" if item.unweighed else ""
        btu = style.value(item.heat_btu_per_h, "BTU/h", 3)
        yield from textwrap.wrap(
            style.plain(
                f"rack {item.rack.id}: {units}, {style.value(item.weight_kg, 'kg')}{more},"
                f" heat {style.value(item.heat_w, 'W')} ({btu})"
            ),
            WIDTH,
        )
    if rig.show.racks:
        yield ""


def order_text(found: LoadedSupplies, style: Style) -> Iterator[str]:
    """Print the order to switch on."""
    yield "switch on: desk and sources first, then one at a time; switch off backwards"
    for step in switch_on_order(found):
        surge = f", surge {style.value(step.surge_a, 'A')}" if step.surge_a is not None else ""
        where = step.draw.supply or "no supply"
        yield style.plain(f"  {step.number:>2}  {step.draw.id}  {step.draw.kind}, {where}{surge}")


def first_plug(found: LoadedSupplies, style: Style, *, nfpa: bool = False) -> Iterator[str]:
    """Say what to meter before the first plug, with the volts to expect (common practice, no source)."""
    for item in found.loaded:
        supply = item.supply
        if supply.fed_from is not None:
            continue
        volts = supply.volts.value
        if supply.phases == 3:
            star = mains.line_to_neutral_voltage(volts) if supply.across == "phases" else volts
            delta = volts if supply.across == "phases" else mains.line_to_line_voltage(volts)
            yield f"{supply.id}: phase to neutral {_band(star, style)}; phase to phase {_band(delta, style)}"
        else:
            pair = "phase to phase" if supply.across == "phases" else "phase to neutral"
            yield f"{supply.id}: {pair} {_band(volts, style)}"
        if supply.generator is not None:
            hertz = 60.0 if nfpa else 50.0
            yield (
                f"{supply.id}, a generator: {style.value(hertz, 'Hz')} ({hertz * 0.99:g} to {hertz * 1.01:g}) and its "
                "volts before anything hangs on it; neutral joined to earth at the generator, once, and nowhere else: "
                "ask who joined it"
            )
    yield "neutral to earth: a few volts at most, and 0 V with nothing running; phase to earth as phase to neutral"
    yield "a socket that reads phase-to-phase volts has a lost or crossed neutral: plug in nothing"
    yield "press the test button of each residual-current device; then meter again at the last socket"


def _band(volts: float, style: Style) -> str:
    low, high = mains.minimum_supply_voltage(volts), mains.maximum_supply_voltage(volts)
    return f"{style.value(volts, 'V')} ({low:.0f} to {high:.0f})"


def _item(text: str, style: Style) -> list[str]:
    return textwrap.wrap(style.plain(printable(text, 500)), WIDTH, initial_indent="  ", subsequent_indent="    ")


def supply_object(rig: Rig) -> dict[str, Any]:
    """Make the supplies one object, units in the key names."""
    found = supplies_of(rig)
    return {
        "supplies": [_supply_object(item) for item in found.loaded],
        "units": [_draw_object(draw) for draw in found.draws],
        "devices": [
            {"id": device.id, "supplies": device.supplies, "rating_a": device.rating_a, "leakage_a": device.leakage_a}
            for device in found.devices
        ],
        "racks": [
            {
                "id": item.rack.id,
                "units": item.units,
                "used": item.used,
                "weight_kg": item.weight_kg,
                "heat_w": item.heat_w,
                "heat_btu_per_h": item.heat_btu_per_h,
            }
            for item in racks_of(rig, found.draws)
        ],
        "switch_on": [
            {"unit": step.draw.id, "supply": step.draw.supply, "surge_a": step.surge_a}
            for step in switch_on_order(found)
        ],
    }


def _supply_object(item: LoadedSupply) -> dict[str, Any]:
    return {
        "id": item.supply.id,
        "fed_from": item.supply.fed_from,
        "lines": [
            {"line": name, "load_a": amps, "drop_v": drop, "drop_percent": 100.0 * share}
            for name, amps, drop, share in zip(
                line_names(item.supply), item.line_a, item.drop_v, item.drop_share, strict=False
            )
        ],
        "rating_a": item.supply.rating.value,
        "generator_a": generator_a(item.supply),
        "neutral_a": item.neutral_a,
        "neutral_fundamental_a": item.neutral_first_a,
        "neutral_third_harmonic_a": item.neutral_third_a,
        "third_harmonic_guessed": item.third_guessed,
        "power_w": item.power_w,
        "apparent_va": item.apparent_va,
        "heat_w": item.heat_w,
        "leakage_a": item.leakage_a,
        "inrush_a": item.inrush_a,
        "private": item.private,
        "assumed": item.assumed,
    }


def _draw_object(draw: Draw) -> dict[str, Any]:
    return {
        "id": draw.id,
        "kind": draw.kind,
        "supply": draw.supply,
        "phase": draw.phase,
        "rated_w": draw.rated_w,
        "output_w": draw.output_w,
        "power_w": draw.power_w,
        "power_by_shares_w": draw.shares_power_w,
        "apparent_va": draw.apparent_va,
        "current_a": draw.current_a,
        "heat_w": draw.heat_w,
        "leakage_a": draw.leakage_a,
        "inrush_a": draw.inrush_a,
        "assumed": draw.assumed,
    }
