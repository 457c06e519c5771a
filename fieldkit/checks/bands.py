"""Bands and drives: no driver gets a band that is not its own, no section stays silent or is fed twice."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import BoxSubject, Choices, box_rule, finding, output_rule, show_rule
from fieldkit.gear.loudspeaker import Preset
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.lines import Load
from fieldkit.rig.solving import SolvedOutput

FRAGILE = {"high", "mid"}
"""Sections that the band below them destroys."""

KILLS = "low notes push a high driver past its travel and its watts; it is dead in seconds"


def _band(load: Load) -> str:
    """Name what a section wants: subs and lows may not share with tops, nor fulls with highs."""
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
            f"{listed} sections hang on this one output ({lines}); in danger: {names}",
            why=KILLS,
            cure="give each section an output of its own with its own preset; check which pin pair goes where",
        )
    else:
        yield finding(
            "warning",
            "bands-on-one-output",
            ("output", output.output.id),
            f"{listed} sections hang on this one output ({lines}): {names}",
            why="one preset cannot suit both: one of them gets too much band or too little",
            cure="give each an output of its own with its own preset",
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
        others = _sections_of(subject, preset)
        if preset.id not in section.presets and others:
            whose = f"is meant for the {' and '.join(others)} section"
        elif preset.high_pass is None and preset.low_pass is not None:
            whose = "has a low-pass and no high-pass"
        else:
            continue
        yield finding(
            "error",
            "high-on-wrong-band",
            ("box", subject.box.id),
            f"the {section.section} section has the preset '{preset.id}', which {whose} (line {feed.line.id})",
            why=KILLS,
            cure=f"use one of {', '.join(section.presets) or 'the presets made for it'} before anything is unmuted",
        )


def _sections_of(subject: BoxSubject, preset: Preset) -> list[str]:
    return list(dict.fromkeys(item.section for item in subject.speaker.sections if preset.id in item.presets))


@show_rule
def presets_on_one_processor_output(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a processor output that feeds sections which need different presets."""
    by_host: dict[str, list[tuple[SolvedOutput, Load]]] = {}
    for output in rig.outputs:
        if output.host is not None and output.host.kind == "processor":
            by_host.setdefault(output.host.id, []).extend((output, load) for load in output.loads)
    for host, fed in by_host.items():
        presets = dict.fromkeys(load.choice.id for _, load in fed if load.choice.id)
        if len(presets) < 2:
            continue
        fragile = [load for _, load in fed if _band(load) in FRAGILE]
        danger = bool(fragile) and len({_band(load) for _, load in fed}) > 1
        outputs = ", ".join(dict.fromkeys(output.output.id for output, _ in fed))
        yield finding(
            "error" if danger else "warning",
            "high-on-wrong-band" if danger else "presets-on-one-host",
            ("host", host),
            f"{outputs} all hang on {host}, but want the presets {', '.join(map(str, presets))}",
            why=KILLS if danger else "a processor output holds one preset: the other boxes get the wrong one",
            cure="feed each preset from a processor output of its own",
        )


@box_rule
def sections_of_a_box(subject: BoxSubject, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a box that nothing feeds, a section left unfed, a section fed twice."""
    drive = subject.feeds[0].load.drive if subject.feeds else subject.box.drive
    wanted = subject.speaker.sections_in(drive or subject.speaker.drives()[0])
    name = subject.box.id
    if all(section.drive == "self-powered" for section in wanted):
        if subject.runs:
            yield finding(
                "error",
                "self-powered-on-a-line",
                ("box", name),
                f"a self-powered box is on the loudspeaker run {', '.join(subject.runs)}",
                why="an amplifier's volts destroy an input that expects a signal",
                cure="take it off the run; it wants mains and a signal cable",
            )
        return
    fed = [(feed.load.section.section, feed.load.section.pair) for feed in subject.feeds if feed.output]
    if not fed:
        on = f"the run {', '.join(subject.runs)} reaches it with no fed pair" if subject.runs else "no run reaches it"
        yield finding(
            "warning",
            "box-unfed",
            ("box", name),
            f"nothing feeds this box: {on}",
            why="it will be silent",
            cure="put it into the path of a run, or take it out of the plan",
        )
        return
    for section in wanted:
        times = fed.count((section.section, section.pair))
        if times == 0:
            yield _unfed(subject, section.section, section.pair)
        if times > 1:
            yield _fed_twice(subject, section.section, section.pair)


def _fed_twice(subject: BoxSubject, section: str, pair: int) -> Finding:
    feeds = [
        feed
        for feed in subject.feeds
        if feed.output and (feed.load.section.section, feed.load.section.pair) == (section, pair)
    ]
    outputs = sorted({feed.output.output.id for feed in feeds if feed.output})
    lines = " and ".join(feed.line.id for feed in feeds)
    if len(outputs) > 1:
        return finding(
            "error",
            "fed-twice",
            ("box", subject.box.id),
            f"the {section} section hangs on {' and '.join(outputs)} at once ({lines})",
            why="two outputs wired together drive each other; both may fail",
            cure="leave one of the runs off this box",
        )
    return finding(
        "warning",
        "fed-twice",
        ("box", subject.box.id),
        f"{lines} both feed its {section} section, from {outputs[0]}",
        why="it counts as two boxes in every figure, and one of the two cables is wasted",
        cure="leave one of the runs off this box",
    )


def _unfed(subject: BoxSubject, section: str, pair: int) -> Finding:
    return finding(
        "error",
        "section-unfed",
        ("box", subject.box.id),
        f"its {section} section, on pin pair {pair}, is fed by nothing",
        why="half of the box stays silent, and it sounds like a fault in the box",
        cure=f"feed pair {pair} of its run with a cable that has it, or drive the box passive by its switch",
    )


@box_rule
def switch_as_seen(subject: BoxSubject, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a box whose switch was seen in another position than its planned drive."""
    seen = subject.box.switch
    planned = subject.feeds[0].load.drive if subject.feeds else (subject.box.drive or subject.speaker.drives()[0])
    if seen is None or seen == planned:
        return
    yield finding(
        "error",
        "switch-not-as-planned",
        ("box", subject.box.id),
        f"its switch was seen at {seen}, and the plan drives it {planned}",
        why="a section is silent, or a passive crossover and a processor cut the band twice",
        cure=f"set the switch to {planned}, or change the plan to {seen}",
    )
