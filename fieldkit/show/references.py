"""Ids and what they point to: every label is one thing's, and every name that is used is somebody's."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.names import Kind
from fieldkit.gear.processor import Processor
from fieldkit.show.compared import Compared
from fieldkit.show.contents import channels_of, is_pair
from fieldkit.show.document import MODEL_TABLES, Box, RackUnit, Show
from fieldkit.show.failed_references import failed_problems
from fieldkit.show.loops import circle
from fieldkit.show.patch_references import (
    Offered,
    Problem,
    box_input_problems,
    nothing_offered,
    reading_problems,
    run_problems,
    unit_problems,
)
from fieldkit.show.walker import TABLES, missing, owner_of, tables_of_rows
from fieldkit.text.words import Path, nearest

MOST_NAMED = 4
"""A name that may be of more kinds than this is said to be a model's."""
SHARED_TABLES = ("boxes", "racks", "rack_units", "runs", "supplies")
"""Tables whose ids are labels on things: no two of them may be alike, or a label would say nothing."""


def problems(show: Show, offered: Offered = nothing_offered, *, sound: Show | None = None) -> Iterator[Problem]:
    """Find every id that stands twice, points nowhere, or leads back to itself, in the file's order.

    ``offered`` names the models that could be had from elsewhere, for the nearest name; it is asked only when a
    model is missing. ``sound`` is a show in which nothing is wrong, such as the one that was edited: what is the same
    in both is not looked at again, and what is found is the same.
    """
    look = Compared(show, sound)
    if look.new(*MODEL_TABLES):
        yield from _duplicates(show, MODEL_TABLES)
    if look.new("zones"):
        yield from _duplicates(show, ("zones",))
    if look.new(*SHARED_TABLES):
        yield from _duplicates(show, SHARED_TABLES)
    if look.models_new:
        yield from _gear(show)
    for index, stock in look.rows("stock"):
        if stock.out > stock.owned + stock.hired:
            have = stock.owned + stock.hired
            yield ("stock", index, "out"), stock.model, f"out: expected at most the {have} there are, got {stock.out}"
    if look.new("zones"):
        yield from _zones(show)
    yield from _boxes(look, offered)
    if look.new("supplies"):
        yield from _supplies(show)
    yield from _nowhere(look, offered)
    if look.new("built_racks", *SHARED_TABLES):
        yield from _brought_duplicates(show, look.units)
    yield from unit_problems(look, offered)
    yield from box_input_problems(look)
    yield from run_problems(look)
    yield from reading_problems(look)
    yield from failed_problems(show, look.units, look.models)


_WORDS: dict[Kind, str] = {"built_rack": "rack as built"}
"""Kinds whose name is not the word for them."""


def _nowhere(look: Compared, offered: Offered) -> Iterator[Problem]:
    """Find names that nobody has, wherever a field says that it names something."""
    show, known = look.show, look.known
    rows = (
        ((table, index), thing, kinds) for table, _ in tables_of_rows() for index, thing, kinds in look.walked(table)
    )
    for reference in missing(known, rows):
        kinds = reference.names.kinds
        words = [_WORDS.get(kind, kind) for kind in kinds]
        what = "model" if len(kinds) > MOST_NAMED else " or ".join([", ".join(words[:-1]), words[-1]][len(words) < 2 :])
        key = next(str(part) for part in reversed(reference.path) if isinstance(part, str))
        lead = "" if key in {*kinds, "model", "line"} else f"{key}: "
        models = [kind for kind in kinds if TABLES[kind] in MODEL_TABLES]
        near = nearest(reference.name, known.of(kinds) | set(offered(*models) if models else ()))
        yield reference.path, owner_of(show, reference.path), f"{lead}no {what} '{reference.name}'{near}"


def _duplicates(show: Show, tables: tuple[str, ...]) -> Iterator[Problem]:
    seen: dict[str, str] = {}
    for table in tables:
        for index, thing in enumerate(getattr(show, table)):
            if thing.id in seen:
                yield (table, index, "id"), thing.id, f"the id '{thing.id}' is already used in {seen[thing.id]}"
            seen[thing.id] = table


def _brought_duplicates(show: Show, units: dict[str, RackUnit]) -> Iterator[Problem]:
    """Find things that have the label of a unit that a rack as built brings."""
    for table in SHARED_TABLES:
        for index, thing in enumerate(getattr(show, table) if table != "rack_units" else ()):
            if thing.id in units:
                says = f"the id '{thing.id}' is already used by a unit of the rack '{units[thing.id].rack}'"
                yield (table, index, "id"), thing.id, says


def _gear(show: Show) -> Iterator[Problem]:
    for index, speaker in enumerate(show.loudspeakers):
        if not speaker.sections:
            yield ("loudspeakers", index, "sections"), speaker.id, "sections: expected at least one, got none"
        own: set[str] = set()
        for number, preset in enumerate(speaker.presets):
            place: Path = ("loudspeakers", index, "presets", number)
            if preset.id in own:
                yield (*place, "id"), speaker.id, f"the preset '{preset.id}' stands twice in this model"
            own.add(preset.id)
            if preset.limiter is not None and preset.limiter.value <= 0.0:
                wanted = f"expected a power above 0 W, got '{preset.limiter}'"
                yield (*place, "limiter"), speaker.id, f"presets.limiter: {wanted}"
        for number, section in enumerate(speaker.sections):
            for name in section.presets:
                if name not in own:
                    where: Path = ("loudspeakers", index, "sections", number, "presets")
                    yield where, speaker.id, f"no preset '{name}' in this model{nearest(name, own)}"
            if section.dc_resistance is not None and section.dc_resistance.value <= 0.0:
                where = ("loudspeakers", index, "sections", number, "dc_resistance")
                wanted = f"expected a resistance above 0 ohm, got '{section.dc_resistance}'"
                yield where, speaker.id, f"sections.dc_resistance: {wanted}"
            if section.drive != "self-powered" and (section.impedance is None or section.continuous is None):
                where = ("loudspeakers", index, "sections", number)
                missing = "impedance" if section.impedance is None else "continuous"
                yield where, speaker.id, f"the section '{section.section}' needs the key '{missing}'"
    for index, amplifier in enumerate(show.amplifiers):
        yield from _amplifier(index, amplifier)
    known: dict[str, Amplifier | Processor] = {model.id: model for model in show.amplifiers}
    known.update((model.id, model) for model in show.processors)
    for index, rack in enumerate(show.built_racks):
        for number, inside in enumerate(rack.contents):
            if inside.model not in known:
                where = ("built_racks", index, "contents", number, "model")
                yield where, rack.id, f"no amplifier or processor '{inside.model}'{nearest(inside.model, known)}"
        for socket, pairs in rack.panel.items():
            for pair, output in pairs.items():
                if not is_pair(pair):
                    where = ("built_racks", index, "panel", socket, pair)
                    yield where, rack.id, f"panel.{socket}: expected a pin pair such as 1, got '{pair}'"
                elif not _is_output(output, [known.get(inside.model) for inside in rack.contents]):
                    where = ("built_racks", index, "panel", socket, pair)
                    wanted = f"expected a unit and its channel such as '1.2' or '1.3+4', got '{output}'"
                    yield where, rack.id, f"panel.{socket}: {wanted}"


def _is_output(output: str, contents: list[Amplifier | Processor | None]) -> bool:
    """Tell whether ``1.2`` names an output of an amplifier among the contents of a rack as built."""
    number, _, channels = output.partition(".")
    units = channels_of(number, len(contents))
    model = contents[units[0] - 1] if units and len(units) == 1 else None
    return isinstance(model, Amplifier) and channels_of(channels, model.channels) is not None


def _amplifier(index: int, amplifier: Amplifier) -> Iterator[Problem]:
    if not amplifier.ratings(bridged=False):
        yield ("amplifiers", index, "powers"), amplifier.id, "powers: expected at least one that is not bridged"
    for number, rating in enumerate(amplifier.powers):
        if rating.power.value <= 0.0:
            wanted = f"expected a power above 0 W, got '{rating.power}'"
            yield ("amplifiers", index, "powers", number, "power"), amplifier.id, f"powers.power: {wanted}"
    for bridged in (False, True):
        table = [rating.load.value for rating in amplifier.ratings(bridged=bridged)]
        if len(set(table)) != len(table):
            yield ("amplifiers", index, "powers"), amplifier.id, "powers: the same load is rated twice in one mode"
    for kind in ("connectors", "connectors_bridged"):
        for name, pairs in getattr(amplifier, kind).items():
            for pair, channel in pairs.items():
                if not is_pair(pair):
                    wanted = f"expected a pin pair such as 1, got '{pair}'"
                    yield ("amplifiers", index, kind, name, pair), amplifier.id, f"{kind}.{name}: {wanted}"
                elif channels_of(channel, amplifier.channels) is None:
                    wanted = f"expected a channel from 1 to {amplifier.channels}, or two such as '1+2'"
                    yield (
                        ("amplifiers", index, kind, name, pair),
                        amplifier.id,
                        f"{kind}.{name}: {wanted}, got '{channel}'",
                    )


def _zones(show: Show) -> Iterator[Problem]:
    sources = {zone.id: zone.low_end_from or () for zone in show.zones}
    # A zone that holds its own subs names itself; a longer way back makes no sense.
    way = circle(sources, lambda name: (other for other in sources.get(name, ()) if other != name))
    if way:
        index = next(index for index, zone in enumerate(show.zones) if zone.id == way[0])
        yield ("zones", index, "low_end_from"), way[0], f"low_end_from goes in a circle: {' → '.join(way)}"
    timed = {zone.id: (zone.timed_to,) if zone.timed_to else () for zone in show.zones}
    way = circle(timed, lambda name: timed.get(name, ()))
    if way:
        index = next(index for index, zone in enumerate(show.zones) if zone.id == way[0])
        yield ("zones", index, "timed_to"), way[0], f"timed_to goes in a circle: {' → '.join(way)}"


def _boxes(look: Compared, offered: Offered) -> Iterator[Problem]:
    show, models = look.show, look.models
    zones = {zone.id: zone for zone in show.zones}
    speakers = {model.id: model for model in show.loudspeakers}
    for index, box in look.rows("boxes", all_of_them=look.models_new or look.sides_new):
        if box.zone in zones and box.side and zones[box.zone].signals and box.side not in zones[box.zone].signals:
            sides = zones[box.zone].signals
            where: Path = ("boxes", index, "side")
            yield where, box.id, f"the zone '{box.zone}' has no side '{box.side}'{nearest(box.side, sides)}"
        if (box.model is None) == (box.unknown is None):
            yield ("boxes", index), box.id, "expected either 'model' or 'unknown' (ohms and watts)"
        elif box.model is not None and box.model not in speakers:
            kind = f"'{box.model}' is not a loudspeaker" if box.model in models else f"no loudspeaker '{box.model}'"
            yield ("boxes", index, "model"), box.id, kind + nearest(box.model, {*speakers, *offered("loudspeaker")})
        elif box.model is not None:
            yield from _box_choices(index, box, speakers[box.model])


def _box_choices(index: int, box: Box, speaker: Loudspeaker) -> Iterator[Problem]:
    for key, drive in (("drive", box.drive), ("switch", box.switch)):
        if drive is not None and drive not in speaker.drives():
            has = ", ".join(speaker.drives())
            yield ("boxes", index, key), box.id, f"'{speaker.id}' has no drive '{drive}'; expected {has}"
    sections = {section.section for section in speaker.sections}
    for section, name in box.presets.items():
        if section not in sections:
            where: Path = ("boxes", index, "presets", section)
            yield where, box.id, f"'{speaker.id}' has no section '{section}'{nearest(section, sections)}"
        if speaker.preset(name) is None:
            known = [preset.id for preset in speaker.presets]
            where = ("boxes", index, "presets", section)
            yield where, box.id, f"'{speaker.id}' has no preset '{name}'{nearest(name, known)}"


def _supplies(show: Show) -> Iterator[Problem]:
    names = {supply.id: supply for supply in show.supplies}
    for index, supply in enumerate(show.supplies):
        if supply.volts.value < 1.0:
            yield ("supplies", index, "volts"), supply.id, f"volts: expected at least 1 V, got '{supply.volts}'"
        prime = supply.generator.prime if supply.generator else None
        if prime is not None and prime.value < 1.0:
            says = f"generator.prime: expected at least 1 VA, got '{prime}'"
            yield ("supplies", index, "generator", "prime"), supply.id, says
        if supply.rating.value < 0.01:
            wanted = f"expected at least 10 mA, got '{supply.rating}'"
            yield ("supplies", index, "rating"), supply.id, f"rating: {wanted}"
    way = circle(names, lambda name: (other for other in (names[name].fed_from,) if other in names))
    if way:
        index = next(index for index, supply in enumerate(show.supplies) if supply.id == way[0])
        yield ("supplies", index, "fed_from"), way[0], f"fed_from goes in a circle: {' → '.join(way)}"
