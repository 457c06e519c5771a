"""Bands and drives: no driver gets a band that is not its own, no section stays silent or is fed twice."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import BoxSubject, Choices, box_rule, finding, output_rule, show_rule
from fieldkit.gear.loudspeaker import FRAGILE, Preset, Section
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.units import format_value

OCTAVE = 2.0
"""A high-pass further than this below a section's own lowest frequency protects nothing. Common practice."""

KILLS = "low notes push a high driver past its travel and its watts; it burns out in seconds"


def _band(load: Load) -> str:
    """Name the band that a section wants."""
    return load.section.section


@output_rule
def bands_on_one_output(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find sections of different bands on one output."""
    bands = dict.fromkeys(_band(load) for load in output.loads)
    if len(bands) < 2:
        return
    fragile = [load for load in output.loads if _band(load) in FRAGILE]
    lines = ", ".join(solved.line.id for solved in output.lines)
    listed = " and ".join(bands)
    names = ", ".join(dict.fromkeys(load.box.id for load in (fragile or output.loads)))
    if fragile:
        yield finding(
            "error",
            "high-on-wrong-band",
            ("output", output.output.id),
            f"{listed} sections share this one output ({lines}); in danger: {names}",
            why=KILLS,
            fix="give each section an output of its own with its own preset; check which pin pair goes where",
        )
    else:
        yield finding(
            "warning",
            "bands-on-one-output",
            ("output", output.output.id),
            f"{listed} sections share this one output ({lines}): {names}",
            why="one preset cannot suit both: one of them gets too much band or too little",
            fix="give each an output of its own with its own preset: on a run of its own, or on another pair of this "
            "one behind an adaptor that exchanges pairs",
        )


@box_rule
def high_on_wrong_preset(subject: BoxSubject, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a high section whose preset lets low notes through."""
    seen = set()
    for feed in subject.feeds:
        section, preset = feed.load.section, feed.load.choice.preset
        if section.section not in FRAGILE or preset is None or (section.section, preset.id) in seen:
            continue
        seen.add((section.section, preset.id))
        fault = _lets_low_notes_through(subject, section, preset)
        if fault:
            yield finding(
                "error",
                "high-on-wrong-band",
                ("box", subject.box.id),
                f"the {section.section} section has the preset '{preset.id}', which {fault} (line {feed.line.id})",
                why=KILLS,
                fix=f"use {_one_of(section.presets)} before anything is unmuted",
            )


def _lets_low_notes_through(subject: BoxSubject, section: Section, preset: Preset) -> str:
    """Say what is wrong with a preset for a section that low notes destroy; nothing where it is right.

    A preset that the model itself gives to the section is trusted where it says nothing of its high-pass.
    """
    own = preset.id in section.presets
    others = [] if own else _sections_of(subject, preset)
    if others:
        return f"is meant for the {' and '.join(others)} section"
    if preset.high_pass is None:
        if preset.low_pass is not None:
            return "has a low-pass and no high-pass"
        return "" if own else "has no high-pass"
    if section.low is not None and preset.high_pass.value * OCTAVE < section.low.value:
        high_pass, low = format_value(preset.high_pass.value, "Hz"), format_value(section.low.value, "Hz")
        return f"has its high-pass at {high_pass}, and the section begins at {low}"
    return ""


def _one_of(presets: tuple[str, ...]) -> str:
    if len(presets) > 1:
        return f"one of {', '.join(presets)}"
    return presets[0] if presets else "the presets made for it"


def _sections_of(subject: BoxSubject, preset: Preset) -> list[str]:
    return list(dict.fromkeys(item.section for item in subject.speaker.sections if preset.id in item.presets))


@show_rule
def high_fed_from_another_output(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a high section that the connector's pins feed from an output which is set for another band."""
    mismatched = [line for line in rig.lines if line.mismatch]
    outputs = {output.output.id: output for output in rig.outputs} if mismatched else {}
    for line in mismatched:
        fragile = [load for load in line.loads if _band(load) in FRAGILE]
        carried = outputs.get(line.mismatch)
        if not fragile or carried is None:
            continue
        set_for = dict.fromkeys(_band(load) for load in carried.loads if _band(load) not in FRAGILE)
        if not set_for:
            continue
        names = ", ".join(dict.fromkeys(load.box.id for load in fragile))
        bands = " and ".join(dict.fromkeys(_band(load) for load in fragile))
        meant = line.run.feeds.get(line.pair, "")
        yield finding(
            "error",
            "high-on-wrong-band",
            ("line", line.id),
            f"pair {line.pair} of {line.run.start} carries {line.mismatch}, which is set for the "
            f"{' and '.join(set_for)} section, to the {bands} section of {names}",
            why=KILLS,
            fix=f"correct 'feeds' to what the pins carry, or start at a connector whose pair {line.pair} is {meant}",
        )


@show_rule
def presets_on_one_processor_output(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a processor output that feeds sections which need different presets."""
    by_host: dict[str, list[tuple[SolvedOutput, Load]]] = {}
    for output in rig.outputs:
        if output.host is not None and output.host.kind == "processor":
            by_host.setdefault(output.host.id, []).extend((output, load) for load in output.loads)
    for host, fed in by_host.items():
        presets = dict.fromkeys((load.speaker.id, load.choice.id) for _, load in fed if load.choice.id)
        if len(presets) < 2:
            continue
        fragile = [load for _, load in fed if _band(load) in FRAGILE]
        danger = bool(fragile) and len({_band(load) for _, load in fed}) > 1
        outputs = ", ".join(dict.fromkeys(output.output.id for output, _ in fed))
        wanted = ", ".join(f"{preset} of {model}" for model, preset in presets)
        yield finding(
            "error" if danger else "warning",
            "high-on-wrong-band" if danger else "presets-on-one-host",
            ("host", host),
            f"{outputs} are all fed from {host}, but want {wanted}",
            why=KILLS if danger else "a processor output holds one preset: the other boxes get the wrong one",
            fix="feed each preset from a processor output of its own",
        )


@box_rule
def sections_of_a_box(subject: BoxSubject, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a section left unfed or fed twice, and a self-powered box on a line."""
    wanted = dict.fromkeys(
        (section.section, section.pair)
        for section in subject.speaker.sections_in(planned_drive(subject.box, subject.speaker))
    )
    name = subject.box.id
    if planned_drive(subject.box, subject.speaker) == "self-powered":
        if subject.runs:
            yield finding(
                "error",
                "self-powered-on-a-line",
                ("box", name),
                f"a self-powered box is on the loudspeaker run {', '.join(subject.runs)}",
                why="an amplifier's output destroys an input that expects a signal",
                fix="take it off the run: it needs mains and a signal cable",
            )
        return
    fed = [(feed.load.section.section, feed.load.section.pair) for feed in subject.feeds if feed.output]
    if not fed:
        return  # that it is fed by nothing at all is said by the rules about pins
    for section, pair in wanted:
        if (section, pair) not in fed:
            yield _unfed(subject, section, pair)
        else:
            yield from _fed_twice(subject, section, pair)


def _fed_twice(subject: BoxSubject, section: str, pair: int) -> Iterator[Finding]:
    feeds = [
        feed
        for feed in subject.feeds
        if feed.output and (feed.load.section.section, feed.load.section.pair) == (section, pair)
    ]
    outputs = sorted({feed.output.output.id for feed in feeds if feed.output})
    lines = sorted({feed.line.id for feed in feeds})
    # A box may have several sections alike on one pair, so what a line brings at one pass is counted as one.
    passes = [step for step in feeds[0].line.run.path if step.box == subject.box.id]
    if len(lines) < 2 and len(passes) < 2:
        return
    if len(outputs) > 1:
        yield finding(
            "error",
            "fed-twice",
            ("box", subject.box.id),
            f"the {section} section is fed from {' and '.join(outputs)} at once ({' and '.join(lines)})",
            why="two outputs wired together drive each other; both may fail",
            fix="leave one of the runs off this box",
        )
        return
    twice = f"{' and '.join(lines)} both feed" if len(lines) > 1 else f"{lines[0]} goes through it twice, and feeds"
    yield finding(
        "warning",
        "fed-twice",
        ("box", subject.box.id),
        f"{twice} its {section} section, from {outputs[0]}",
        why="it counts as two boxes in every figure, and one of the two cables is wasted",
        fix="leave one of the runs off this box" if len(lines) > 1 else "take one of the two steps out of the path",
    )


def _unfed(subject: BoxSubject, section: str, pair: int) -> Finding:
    fix = f"feed pair {pair} of its run with a cable that has it"
    if "passive" in subject.speaker.drives() and planned_drive(subject.box, subject.speaker) != "passive":
        fix += ", or drive the box passive" + (" by its switch" if subject.speaker.switch else "")
    return finding(
        "error",
        "section-unfed",
        ("box", subject.box.id),
        f"its {section} section, on pin pair {pair}, is fed by nothing",
        why="half of the box stays silent, and it sounds like a fault in the box",
        fix=fix,
    )


@box_rule
def switch_as_seen(subject: BoxSubject, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a box whose switch was seen in another position than its planned drive."""
    seen = subject.box.switch
    planned = planned_drive(subject.box, subject.speaker)
    if seen is None or seen == planned:
        return
    yield finding(
        "error",
        "switch-not-as-planned",
        ("box", subject.box.id),
        f"its switch was seen at {seen}, and the plan drives it {planned}",
        why="a section is silent, or a passive crossover and a processor cut the band twice",
        fix=f"set the switch to {planned}, or change the plan to {seen}",
    )
