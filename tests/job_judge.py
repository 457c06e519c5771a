"""A judge of planned jobs, written apart from the program: it reads the file as it stands, and the gear data in it.

A plan, whoever made it, comes to the same figures: rack units in use, silent boxes, boxes whose preset has no place,
zones whose sides meet on one amplifier, arrays that hang on more than one model of amplifier.
"""

from collections import defaultdict
from pathlib import Path
from typing import NamedTuple

import msgspec
import plan_checker

JOBS = Path(__file__).parent / "jobs"


class Figures(NamedTuple):
    """What a plan takes and leaves; each the smaller the better."""

    silent: tuple[int, ...]
    """Boxes, those of the first priority first."""
    unprocessed: int
    shared: int
    units: int
    mixed: int


class HandPlan(NamedTuple):
    """What a technician would rig."""

    kinds: dict[str, str]
    """Amplifier, processor or rack as built -> its model."""
    outputs: dict[str, tuple[str, ...]]
    """Output -> boxes and section."""
    unprocessed: tuple[str, ...]
    moved: tuple[str, ...]


def hand_plans():
    """Read the hand plans, by job."""
    plans = {}
    for lines in (JOBS / "hand_plans.txt").read_text(encoding="utf-8").split("\n\n"):
        words = [line.split() for line in lines.splitlines() if not line.startswith("#")]
        if not words:
            continue
        rest = words[1:]
        said = {word: tuple(own[1:]) for own in rest if (word := own[0]) in ("unprocessed", "moved")}
        plans[words[0][0]] = HandPlan(
            {own[1]: own[2] for own in rest if own[0] == "kind"},
            {own[0]: tuple(own[1:]) for own in rest if "." in own[0]},
            said.get("unprocessed", ()),
            said.get("moved", ()),
        )
    return plans


def of_hand(plan, show):
    """Give the figures of a hand plan; ``show`` is the finished one, for its models."""
    models = _models(show)
    on = defaultdict(set)
    for output, own in plan.outputs.items():
        for box in own:
            if not box.startswith("/"):
                on[box].add(output.partition(".")[0])
    amplifier = {name: _inside(models, plan.kinds, name) for names in on.values() for name in names}
    units = sum(models[model]["units"] for model in plan.kinds.values())
    return _figures(show, on, amplifier, units, len(plan.unprocessed))


def of_program(show):
    """Give the figures of a show with its runs."""
    models = _models(show)
    built = {rack["id"]: rack["as_built"] for rack in show.get("racks", ()) if rack.get("as_built")}
    at = plan_checker._units(show)
    on = {box: {output.partition(".")[0] for output in pairs.values()} for box, pairs in _arrivals(show).items()}
    used = {name for names in on.values() for name in names}
    placed = {unit["id"]: unit for unit in show.get("rack_units", ())}
    processors, lacking = set(), set()
    for box, pairs in _arrivals(show).items():
        for output in pairs.values():
            name, _, channels = output.partition(".")
            inputs = placed[name].get("inputs", {}) if name in placed else {}
            source = _source(inputs, channels.split("+")[0])
            if "." in source:
                processors.add(source.partition(".")[0])
            elif not models[at[name]["model"]].get("hosts"):
                lacking.add(box)
    within = {f"{r}-{n}": r for r, model in built.items() for n in range(1, len(models[model]["contents"]) + 1)}
    racks = {within[name] for name in used if name in within}
    loose = {*used, *processors} - set(within)
    units = sum(models[built[rack]]["units"] for rack in racks)
    units += sum(models[placed[name]["model"]]["units"] for name in loose)
    return _figures(show, on, {name: at[name]["model"] for name in used}, units, len(lacking))


def _figures(show, on, amplifier, units, unprocessed):
    boxes, zones = ({thing["id"]: thing for thing in show[name]} for name in ("boxes", "zones"))
    priorities = sorted({zone.get("priority", 5) for zone in zones.values()})
    silent = [0] * len(priorities)
    carried, arrays = defaultdict(lambda: defaultdict(set)), defaultdict(set)
    for name, box in boxes.items():
        if not on.get(name):
            silent[priorities.index(zones[box["zone"]].get("priority", 5))] += 1
        for unit in on.get(name, ()):
            carried[box["zone"]][box.get("side", "")].add(unit)
            arrays[box["zone"], box.get("side", ""), box["model"]].add(amplifier[unit])
    shared = 0
    for zone, sides in carried.items():
        if zones[zone].get("use") != "wedge" and len(sides) == 2:
            left, right = sides.values()
            shared += bool(left & right)
    return Figures(tuple(silent), unprocessed, shared, units, sum(len(models) > 1 for models in arrays.values()))


def _models(show):
    heights = {"amplifiers": 2, "processors": 1, "built_racks": 0}  # where a model does not say it, by the schema
    return {m["id"]: {"units": units} | m for table, units in heights.items() for m in show.get(table, ())}


def _inside(models, kinds, name):
    """Name the model of an amplifier, by itself or inside a rack as built (``LA-2`` is the second in rack ``LA``)."""
    if name in kinds:
        return kinds[name]
    rack, _, number = name.rpartition("-")
    return models[kinds[rack]]["contents"][int(number) - 1]["model"]


def _source(inputs, channel):
    text = inputs.get(channel, "")
    return _source(inputs, text[1:]) if text.startswith("=") else text


def _arrivals(show):
    return plan_checker._arrivals(show)


def plain(show):
    """Give a show as plain tables."""
    return msgspec.to_builtins(show, enc_hook=str)


def wrong_leads(show):
    """List the lengths of cable that the runs take and no stock has."""
    have, seen = defaultdict(list), set()
    for item in show.get("stock", ()):
        if "length" in item:
            number = item.get("owned", 0) + item.get("hired", 0) - item.get("out", 0)
            have[item["model"]] += [float(item["length"].split()[0])] * number
    wrong = []
    for run in show.get("runs", ()):
        for step in run["path"]:
            key = (step.get("shared"), step.get("cable"))
            if "cable" not in step or (step.get("shared") and key in seen):
                continue
            seen.add(key)
            length = float(step["length"].split()[0])
            if length in have[step["cable"]]:
                have[step["cable"]].remove(length)
            else:
                wrong.append(f"{run['id']}: {step['length']} of {step['cable']}")
    return wrong
