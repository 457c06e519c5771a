"""Mains: supplies over what they may carry, drop, phases, neutral, leakage, inrush, generators.

Nothing planned is nothing said: a show without supplies has no mains to check.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, show_rule
from fieldkit.formulas import protection
from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.loaded import LoadedSupplies, LoadedSupply, generator_a, limit_a, line_names
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Supply
from fieldkit.units import format_value

PUBLIC_ADVICE, PUBLIC_LIMIT = 0.03, 0.05
"""Voltage drop from the origin: lighting, other uses (IEC 60364-5-52 annex G, public supply)."""
PRIVATE_ADVICE, PRIVATE_LIMIT = 0.06, 0.08
"""The same behind a private supply."""
NEAR = 0.95
"""From this share of its limit on a load that is partly assumed is said to be near it: common practice, no source."""
EXACTLY = 1.0 + 1e-9
"""What floats may be off where a load is just at its limit."""
MINIMUM_UNBALANCED_A = 5.0
"""Under this difference nobody moves a plug: common practice, no source."""

LICENSED = "a licensed electrician decides; local codes rule"


@show_rule
def supplies_hold(rig: Rig, choices: Choices) -> Iterator[Finding]:
    """Look at the supplies of a show, all of them at once, since each rests on those below it."""
    if not rig.show.supplies:
        return
    mains = supplies_of(rig)
    nfpa = rig.show.about.electrical_rules == "nfpa"

    def rests_on(item: LoadedSupply) -> tuple[object, ...]:
        return (nfpa, choices.phase_share, _feeding(item, mains))

    def look(item: LoadedSupply) -> list[Finding]:
        return [*_of_supply(item, _feeding(item, mains), choices.phase_share, nfpa=nfpa)]

    yield from chain.from_iterable(rig.memory.each_of("supplies that hold", mains.loaded, (mains,), rests_on, look))
    if not any(item.supply.phases == 3 for item in mains.loaded):
        circuits = [item for item in mains.loaded if item.supply.phase is not None]
        if len({item.supply.phase for item in circuits}) == 3:
            fullest = max(circuits, key=lambda item: item.load_a)
            yield from _unbalanced(fullest.supply.id, mains.totals, choices.phase_share)
    yield from _leakage(mains)
    yield from _generators(mains)
    yield from _racks_on_three_phases(rig, mains, nfpa=nfpa)


def _feeding(item: LoadedSupply, mains: LoadedSupplies) -> Supply | None:
    above = mains.supply(item.supply.fed_from or "")
    return above.supply if above is not None else None


def _of_supply(item: LoadedSupply, above: Supply | None, phase_share: float, *, nfpa: bool) -> Iterator[Finding]:
    yield from _over_rating(item, nfpa=nfpa)
    yield from _over_generator(item)
    yield from _near_rating(item, nfpa=nfpa)
    yield from _voltage_drop(item)
    yield from _neutral(item)
    yield from _inrush(item)
    yield from _fed_wrongly(item, above)
    if item.supply.phases == 3:
        yield from _unbalanced(item.supply.id, item.line_a, phase_share)


def _amps(value: float) -> str:
    return format_value(value, "A", 3)


def _assumed(item: LoadedSupply) -> str:
    return ", partly assumed" if item.assumed else ""


def _over_rating(item: LoadedSupply, *, nfpa: bool) -> Iterator[Finding]:
    supply, load = item.supply, item.load_a
    most = protection.continuous_limit(supply.rating.value) if nfpa else supply.rating.value
    if load <= most * EXACTLY:
        return
    rule = f", of which {_amps(most)} may flow for hours (80 %)" if nfpa else ""
    yield finding(
        "error",
        "supply-over-rating",
        ("supply", supply.id),
        f"{_worst_line(item)} at the duty of the programme{_assumed(item)}, rated {_amps(supply.rating.value)}{rule}",
        why="its breaker trips in the loud part of the show, and everything on it goes dark"
        if load > supply.rating.value
        else "NFPA 70 210.20(A): what flows for three hours or more may take 80 % of a circuit",
        fix="move a unit to another circuit (Supply, b balances), or ask for a larger one",
        load_a=load,
        rating_a=supply.rating.value,
        limit_a=most,
    )


def _over_generator(item: LoadedSupply) -> Iterator[Finding]:
    """Hold each phase of a generator against its winding: kVA that the other phases leave are no help to it."""
    supply, most = item.supply, generator_a(item.supply)
    if supply.generator is None or most is None or item.load_a <= most * EXACTLY:
        return
    a_phase = " a phase" if supply.phases == 3 else ""
    yield finding(
        "error",
        "generator-over-rating",
        ("supply", supply.id),
        f"{_worst_line(item)} at the duty of the programme{_assumed(item)}; its generator of {supply.generator.prime}"
        f" gives {_amps(most)}{a_phase}",
        why="the winding of one phase gets hot and its volts sag, however little the others carry: it shuts down, and"
        " everything on it goes dark",
        fix="move units to its other phases (Supply, b balances), or ask for a larger generator"
        if supply.phases == 3
        else "take units off it, or ask for a larger generator",
        load_a=item.load_a,
        limit_a=most,
    )


def _near_rating(item: LoadedSupply, *, nfpa: bool) -> Iterator[Finding]:
    """Warn where a load that rests on assumed values nearly fills a line: it may be over it as well."""
    most = limit_a(item.supply, nfpa=nfpa)
    if not item.assumed or not NEAR * most < item.load_a <= most * EXACTLY:
        return
    yield finding(
        "note",
        "supply-near-rating",
        ("supply", item.supply.id),
        f"{_worst_line(item)} of {_amps(most)} that it may carry, and part of it is assumed",
        why="idle power, efficiency or power factor of something on it are guesses: the true load may be over",
        fix="read them off the data sheets, or move a unit to another circuit (Supply, b balances)",
        load_a=item.load_a,
        limit_a=most,
    )


def _worst_line(item: LoadedSupply) -> str:
    """Find the load of the fullest phase, and which it is where there are three."""
    name = line_names(item.supply)[item.line_a.index(item.load_a)]
    return f"{_amps(item.load_a)} on {name}" if item.supply.phases == 3 else _amps(item.load_a)


def _voltage_drop(item: LoadedSupply) -> Iterator[Finding]:
    if not any(item.drop_v):
        return  # what is lost above it is said there
    advice, most = (PRIVATE_ADVICE, PRIVATE_LIMIT) if item.private else (PUBLIC_ADVICE, PUBLIC_LIMIT)
    share = item.worst_drop_share
    if share <= advice:
        return
    kind = "private" if item.private else "public"
    yield finding(
        "warning" if share > most else "note",
        "supply-voltage-drop",
        ("supply", item.supply.id),
        f"{100.0 * share:.1f} % of the volts are lost on the way; from a {kind} supply at most {100.0 * most:g} %"
        f" (lights {100.0 * advice:g} %)",
        why="amplifiers give less, draw more, and may shut down on bass peaks, when far more flows than on average",
        fix="a thicker or shorter feeder, fewer units on it, or a supply nearer to the racks",
        drop_percent=100.0 * share,
        drop_v=max(item.drop_v),
        limit_percent=100.0 * most,
    )


def _neutral(item: LoadedSupply) -> Iterator[Finding]:
    supply = item.supply
    if supply.phases != 3 or item.neutral_a <= supply.rating.value * EXACTLY:
        return
    guess = ", here guessed from power factors" if item.third_guessed else ""
    yield finding(
        "error",
        "neutral-over-rating",
        ("supply", supply.id),
        f"{_amps(item.neutral_a)} on the neutral, rated {_amps(supply.rating.value)}:"
        f" {_amps(item.neutral_third_a)} of third harmonics{guess}, and {_amps(item.neutral_first_a)} of unbalance",
        why="no breaker watches the neutral, and third harmonics of the phases add on it: it burns, and where it"
        " opens 400 V stand on 230 V sockets",
        fix="balance the phases, take fewer units without power-factor correction, or a feeder with a larger neutral",
        neutral_a=item.neutral_a,
        rating_a=supply.rating.value,
    )


def is_unbalanced(lines: tuple[float, float, float], most_share: float) -> bool:
    """Tell whether the fullest phase is so far over the mean that somebody should move a plug."""
    worst = max(lines)
    return worst - min(lines) >= MINIMUM_UNBALANCED_A and worst > sum(lines) / 3.0 * (1.0 + most_share)


def _unbalanced(name: str, lines: tuple[float, float, float], most_share: float) -> Iterator[Finding]:
    if not is_unbalanced(lines, most_share):
        return
    yield finding(
        "note",
        "phases-unbalanced",
        ("supply", name),
        f"the phases carry {', '.join(_amps(amps) for amps in lines)}",
        why="the fullest phase sets how large feeder and generator must be, and the difference flows on the neutral",
        fix="move units between phases; b on the Supply screen proposes how",
        line_1_a=lines[0],
        line_2_a=lines[1],
        line_3_a=lines[2],
        limit_percent=100.0 * most_share,
    )


def _racks_on_three_phases(rig: Rig, mains: LoadedSupplies, *, nfpa: bool) -> Iterator[Finding]:
    """Find a rack whose units are on all three phases though one circuit of theirs would carry them all."""
    inside: dict[str, list[tuple[Draw, int]]] = {}
    for draw in mains.draws:
        if draw.rack is not None and (phase := phase_of(draw, mains)):
            inside.setdefault(draw.rack, []).append((draw, phase))
    for rack in rig.show.racks:
        its = inside.get(rack.id, [])
        amps = sum(draw.current_a or 0.0 for draw, _ in its)
        if len({phase for _, phase in its}) < 3:
            continue
        largest = max((mains.by_id[draw.supply or ""].supply for draw, _ in its), key=lambda item: item.rating.value)
        most = limit_a(largest, nfpa=nfpa)
        if amps > most:
            continue
        where = ", ".join(f"{draw.id} on L{phase}" for draw, phase in its)
        yield finding(
            "note",
            "rack-on-three-phases",
            ("rack", rack.id),
            f"{where}; together they take {_amps(amps)}, and one circuit of {_amps(most)} carries that",
            why="between neighbours in one rack there are then 400 V, and the loss of any phase takes a part of it",
            fix="plug the rack into one circuit where the phases stay even; b on the Supply screen proposes how",
            load_a=amps,
            limit_a=most,
        )


def phase_of(draw: Draw, mains: LoadedSupplies) -> int | None:
    """Say which phase a unit is on, by itself or by its circuit; None where nobody has said it, or it is on two."""
    item = mains.by_id.get(draw.supply or "")
    if item is None or item.supply.across == "phases":
        return None
    return draw.phase if item.supply.phases == 3 else item.supply.phase


def _inrush(item: LoadedSupply) -> Iterator[Finding]:
    """Compare the surge of everything on one circuit at once with what its breaker bears."""
    supply = item.supply
    if not item.draws or not item.inrush_a:
        return
    letter = supply.breaker or "B"
    holds = protection.trip_times(letter)[0] * supply.rating.value
    own = _fullest_surge_a(item)
    if own <= holds:
        return
    alone = max(draw.inrush_a or 0.0 for draw in item.draws)
    said = f"type {letter}" if supply.breaker else "if it is of type B"
    yield finding(
        "warning" if alone > holds and supply.breaker else "note",
        "supply-inrush",
        ("supply", supply.id),
        f"switched on together its units surge to {_amps(own)}{_on_a_line(item)}; its breaker ({said}) is sure to hold"
        f" {_amps(holds)}",
        why="after a power cut everything starts at once, the breaker trips again, and nobody knows why",
        fix="switch on one at a time in the order of the Supply screen"
        + (", or ask for a breaker of a slower type" if alone > holds else ", or use a sequencer"),
        inrush_a=own,
        holds_a=holds,
        largest_a=alone,
    )


def _fed_wrongly(item: LoadedSupply, above: Supply | None) -> Iterator[Finding]:
    supply = item.supply
    if above is not None and supply.phases == 3 and above.phases == 1:
        yield finding(
            "error",
            "supply-fed-from-one-phase",
            ("supply", supply.id),
            f"it has three phases, and {above.id}, which feeds it, has one",
            why="three phases do not come out of one; joined together its neutral carries all three",
            fix=f"set 'phases' of one of them right; {LICENSED}",
        )
    elif above is not None and above.phases == 3 and supply.phases == 1 and supply.phase is None and item.load_a:
        yield finding(
            "note",
            "supply-phase-not-said",
            ("supply", supply.id),
            f"the show does not say which phase of {above.id} it is on; its load was spread over three",
            why="balance and neutral cannot be known without it",
            fix="read it off the distribution and note it as 'phase'",
        )
    if supply.phases == 3 and item.draws and any(draw.phase is None for draw in item.draws):
        names = ", ".join(draw.id for draw in item.draws if draw.phase is None)
        yield finding(
            "note",
            "supply-phase-not-said",
            ("supply", supply.id),
            f"the show does not say which of its phases feeds {names}; the load was spread over three",
            why="balance and neutral cannot be known without it",
            fix="note 'phase' with each unit, or let b on the Supply screen propose it",
        )


def _leakage(mains: LoadedSupplies) -> Iterator[Finding]:
    for device in mains.devices:
        most = protection.leakage_limit(device.rating_a)
        if device.leakage_a <= most * EXACTLY:
            continue
        unknown = f"; {device.unknown} more do not say" if device.unknown else ""
        behind = f" ({device.id})" if device.id not in device.supplies else ""
        yield finding(
            "warning",
            "earth-leakage",
            ("supply", device.supplies[0]),
            f"{_milli(device.leakage_a)} leak to earth behind its {_milli(device.rating_a)} device{behind}{unknown};"
            f" at most {_milli(most)} should",
            why="leakage in good order adds up, and the device trips without a fault, with the audience in",
            fix="spread the units over more devices; never bridge a device and never lift a protective earth",
            leakage_ma=1000.0 * device.leakage_a,
            limit_ma=1000.0 * most,
        )


def _fullest_surge_a(item: LoadedSupply) -> float:
    """Compute the inrush of the fullest phase [A]; a unit with no phase set counts a third on each of three."""
    lines = [0.0] * item.supply.phases
    for draw in item.draws:
        on = [draw.phase - 1] if draw.phase and item.supply.phases == 3 else range(len(lines))
        for place in on:
            lines[place] += (draw.inrush_a or 0.0) / len(on)
    return max(lines)


def _on_a_line(item: LoadedSupply) -> str:
    return " on its fullest phase" if item.supply.phases == 3 else ""


def _milli(amps: float) -> str:
    return format_value(1000.0 * amps, "mA", 3)


def _generators(mains: LoadedSupplies) -> Iterator[Finding]:
    for item, asked_va, prime_va in mains.generators:
        if asked_va <= prime_va * EXACTLY:
            continue
        yield finding(
            "warning",
            "generator-too-small",
            ("supply", item.supply.id),
            f"its load asks for {format_value(asked_va, 'VA', 3)} of prime rating, it has"
            f" {format_value(prime_va, 'VA', 3)}",
            why="a prime rating may be loaded to 70 % on average (ISO 8528-1); beyond it volts and frequency sag",
            fix="a larger generator, or a second one for lights and catering",
            asked_va=asked_va,
            prime_va=prime_va,
        )
