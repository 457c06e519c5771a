"""Presets: there is one for this use, it has a place to run, and one output carries one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from fieldkit.checks.finding import Finding, Kind
from fieldkit.checks.rules import BoxSubject, Choices, box_rule, finding, output_rule, show_rule
from fieldkit.gear.loudspeaker import FRAGILE, Loudspeaker, Preset
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.presets import fits
from fieldkit.rig.connect.uses import is_sub
from fieldkit.rig.signal.delays import standing
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput

MOST_HOSTED = 4
"""Models that a finding names of those that a host has presets of."""


@output_rule
def one_preset_an_output(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find different models, or different presets, on one output."""
    if len({load.section.section for load in output.loads}) > 1:
        return  # another band on the output is said by the rules about bands
    # Boxes without a data sheet are all called unknown: those of one label are taken for alike.
    models = dict.fromkeys(
        f"unknown of {load.box.unknown.impedance} {load.box.unknown.continuous}"
        if load.box.unknown
        else load.speaker.id
        for load in output.loads
    )
    presets = dict.fromkeys(load.choice.id or "none" for load in output.loads)
    if len(models) > 1:
        says = f"this output drives different models: {', '.join(models)}"
    elif len(presets) > 1:
        says = f"the boxes on this output want different presets: {', '.join(presets)}"
    else:
        return
    yield finding(
        "warning",
        "different-boxes-on-one-output",
        ("output", output.output.id),
        says,
        why="an output holds one preset and one limiter: the other boxes get the wrong one",
        fix="give each its own output",
    )


def without_a_place(output: SolvedOutput) -> list[Load]:
    """List what hangs on an output with a preset that nothing on its line can run."""
    wanting = (load for load in output.loads if load.choice.preset is not None)
    return [load for load in wanting if output.host is None or not output.host.takes(load.speaker.id)]


@output_rule
def preset_has_a_place(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a preset that no amplifier and no processor on the line can run."""
    firsts: dict[str, Load] = {}
    for load in without_a_place(output):
        firsts.setdefault(load.speaker.id, load)
    for speaker, load in firsts.items():
        crossover = load.drive == "bi-amp"
        # A passive full-range box plays well enough without; where that is dangerous, the limiter's rules say so.
        plays = load.drive == "passive" and load.section.section == "full"
        where: tuple[Kind, str] = ("output", output.output.id)
        says = f"the preset '{load.choice.id}' of {load.box.id} has no place to run"
        if output.host is not None:
            where = ("host", output.host.id)
            hosted = output.host.hosts.presets
            more = f" and {len(hosted) - MOST_HOSTED} more" if len(hosted) > MOST_HOSTED else ""
            only = f"only of {', '.join(hosted[:MOST_HOSTED])}{more}" if hosted else "nor of any other"
            says = f"{output.host.id} has no presets of '{speaker}', {only}; {load.box.id} needs '{load.choice.id}'"
        yield finding(
            "error" if crossover else "note" if plays else "warning",
            "preset-has-no-host",
            where,
            says,
            why="without its crossover a high section gets the low band, and burns out in seconds"
            if crossover
            else "without it there is no high-pass and no limiter, and the sound is not as designed",
            fix="take an amplifier that hosts it, or feed this input from a processor output that does"
            + (", or drive the box passive" if crossover and "passive" in load.speaker.drives() else ""),
        )


@box_rule
def preset_fits(subject: BoxSubject, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a section without a preset for its use, or with one that somebody chose for another use."""
    for load in _sections(subject):
        preset = load.choice.preset
        use = subject.zone_use.use
        if preset is None and (load.section.presets or load.drive == "bi-amp"):
            yield finding(
                "error" if load.drive == "bi-amp" else "warning",
                "preset-missing",
                ("box", subject.box.id),
                f"no preset for its {load.section.section} section: {load.choice.why}",
                why="without a crossover a high section gets the low band"
                if load.drive == "bi-amp"
                else "it would play with a preset for another use: too much low end, or too little",
                fix="name one under 'presets' of the box, or correct the zone's use and low_end_from",
            )
        elif preset is not None and load.choice.by_hand and _of_another_section(load, preset):
            own = load.section.section
            others = dict.fromkeys(item.section for item in subject.speaker.sections if preset.id in item.presets)
            yield finding(
                "warning",
                "preset-does-not-fit",
                ("box", subject.box.id),
                f"'{preset.id}' is meant for the {' and '.join(others)} section, and is chosen for the {own} section",
                why="the section gets a band that is not its own, and is silent in the rest of its range",
                fix=f"choose one of {', '.join(load.section.presets)}, or take it out of the box's 'presets'"
                if load.section.presets
                else "take the preset out of the box's 'presets'",
            )
        elif preset is not None and load.choice.by_hand and not fits(preset, use, load.section):
            yield finding(
                "warning",
                "preset-does-not-fit",
                ("box", subject.box.id),
                f"'{preset.id}' is for {', '.join(preset.uses)}; zone '{subject.box.zone}' is used {use} "
                f"({subject.zone_use.why})",
                why="low end twice or not at all, or a wedge that rings",
                fix="take the preset out of the box's 'presets', or correct the zone's use and low_end_from",
            )


def _of_another_section(load: Load, preset: Preset) -> bool:
    """Tell whether a preset belongs to other sections only; on a fragile section the rules about bands speak."""
    if load.section.section in FRAGILE or preset.id in load.section.presets:
        return False
    return any(preset.id in item.presets for item in load.speaker.sections)


@box_rule
def sub_has_high_pass(subject: BoxSubject, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a vented sub whose preset has no high-pass."""
    for load in _sections(subject):
        preset = load.choice.preset
        if not load.section.vented or load.section.section != "sub" or (preset and preset.high_pass):
            continue
        what = f"its preset '{preset.id}' has no high-pass" if preset else "it has no preset"
        yield finding(
            "warning",
            "sub-without-high-pass",
            ("box", subject.box.id),
            f"a vented sub, and {what}",
            why="below its tuning nothing holds the cone: it bottoms at a fraction of its rated power",
            fix="use a preset with a high-pass at or just under the tuning, or set one on the host",
        )


def _sections(subject: BoxSubject) -> list[Load]:
    """List the sections that are fed, each once."""
    seen: dict[tuple[str, int], Load] = {}
    for feed in subject.feeds:
        seen.setdefault((feed.load.section.section, feed.load.section.pair), feed.load)
    return list(seen.values())


@show_rule
def hosts_have_room(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find an amplifier or processor that is asked to hold more presets than it can."""
    used: dict[str, dict[str, int]] = {}
    for hosts in rig.memory.each("hosts that hold", rig.amplifiers, _holding):
        for unit, outputs in hosts.items():
            used.setdefault(unit, {}).update(outputs)
    for unit, outputs in used.items():
        slots = max(outputs.values())
        if slots and len(outputs) > slots:
            yield finding(
                "error",
                "host-is-full",
                ("unit", unit),
                f"{len(outputs)} outputs need a preset here ({', '.join(outputs)}), and it holds {slots}",
                why="the outputs left over play without crossover or limiter",
                fix="move some lines to another host, or let outputs with the same preset share a processor output",
                outputs=len(outputs),
                slots=slots,
            )


def _holding(outputs: Iterable[SolvedOutput]) -> dict[str, dict[str, int]]:
    """List the hosts that hold a preset for an amplifier, by unit, with the presets that the unit has room for."""
    used: dict[str, dict[str, int]] = {}
    for output in outputs:
        host = output.host
        # One that does not take these boxes holds nothing for them; that is said by the rule about their place.
        if host is not None and any(load.choice.preset and host.takes(load.speaker.id) for load in output.loads):
            unit = host.id.partition(".")[0]
            used.setdefault(unit, {})[host.id] = host.hosts.slots or 0
    return used


@show_rule
def low_end_exists(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a zone that counts on the low end of another in which there is no sub."""
    in_zone, speakers = rig.show_index.in_zone, rig.show_index.speakers
    sources = {source for zone in rig.show.zones for source in zone.low_end_from or () if in_zone[zone.id]}
    with_subs = {source for source in sources if any(is_sub(speakers[box.id]) for box in in_zone[source])}
    for zone in rig.show.zones:
        for source in zone.low_end_from or () if in_zone[zone.id] else ():
            if source not in with_subs:
                yield finding(
                    "warning",
                    "low-end-missing",
                    ("zone", zone.id),
                    f"it counts on '{source}' for its low end, and there is no sub in '{source}'",
                    why="its boxes are high-passed for a sub that is not there",
                    fix=f"put subs into '{source}', or set low_end_from = []",
                )


STAGE_WORDS = re.compile(r"\b(stage[ _-]?)?(wedges?|monitors?|mons?)\b|\bdrum[ _-]?fills?\b", re.IGNORECASE)
"""What people call boxes on a stage, and the zones that they stand in."""


@show_rule
def stage_boxes_out_front(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find boxes made for a stage, or a zone that is called so, where nobody says what the zone is."""
    index = rig.show_index
    rests_on = (rig.show.zones, standing(rig), index.speakers, index.uses)
    yield from rig.memory.once(("stage boxes out front",), rests_on, lambda: [*_stage_boxes_out_front(rig)])


def _stage_boxes_out_front(rig: Rig) -> Iterator[Finding]:
    for zone in rig.show.zones:
        if zone.use is not None:
            continue
        its = rig.show_index.in_zone[zone.id]
        if STAGE_WORDS.search(_spaced(zone.id)):
            what = "by its name it is on the stage"
        else:
            used = {speaker.id: speaker for speaker in (rig.show_index.speakers[box.id] for box in its)}
            models = [name for name, speaker in used.items() if _is_stage_box(speaker)]
            if not models:
                continue
            names = ", ".join(box.id for box in its if rig.show_index.speakers[box.id].id in models)
            what = f"it has boxes for a stage ({names}: {', '.join(models)})"
        use = rig.show_index.uses[zone.id]
        yield finding(
            "warning",
            "use-not-said",
            ("zone", zone.id),
            f"{what}, and the show does not say that it is a wedge zone: it is taken as out front, {use.why}",
            why="a box on the stage with a preset for out front, and its low end left to subs there, is thin and howls",
            fix='write use = "wedge" for the zone, or use = "front" if it is out front',
        )


def _spaced(name: str) -> str:
    return name.replace("_", " ").replace("-", " ")


def _is_stage_box(speaker: Loudspeaker) -> bool:
    """Tell whether a model is made for a stage: by all that its presets are for, or by what it is called."""
    uses = {use for preset in speaker.presets for use in preset.uses}
    if uses and uses <= {"wedge", "wedge with sub"}:
        return True
    return any(STAGE_WORDS.search(_spaced(text)) for text in (speaker.id, speaker.description))
