"""Fail-over of rigs of more kinds against trying everything: bridged pairs, bi-amp boxes, outboard processors.

The judge plugs and sets the rig in every way that there is, on the physical pins of ``failing_rigs``, which shares no
code with the program.
"""

import itertools
import random
from collections import Counter

import pytest
from budget import seeds
from failing_rigs import Plugged, channels_of, losing_show, plain, unit
from rigs import box, run, step
from test_fail_over_tried import ORDER

from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.planning.failover.returning import put_back

LEADS = {"top": "two", "bi-amp": "four-core", "bridged": "two"}


def hosting(chance):
    """Make two amplifiers with processing: passive tops, bi-amp ones and bridged ones, the second one full or not."""
    text, lines = "", []
    for name, most in (("S1", 3), ("S2", 2)):
        bridged, used = [], set()
        for socket, channels in chance.sample([("A", "12"), ("B", "2"), ("C", "34"), ("D", "4")], 4):
            kind = chance.choice(["top", "top", "bi-amp", "bridged"] if len(channels) > 1 else ["top"])
            taken = set(channels) if kind != "top" else {channels[0]}
            # A pair that is bridged has no channel for anything else; a plug carries both channels of its socket.
            if taken & used or (kind != "bridged" and "+".join("12" if channels[0] in "12" else "34") in bridged):
                continue
            if len([line for line in lines if line[1].startswith(name)]) == most:
                break
            used |= taken
            if kind == "bridged":
                bridged.append("+".join(channels))
            lines.append((f"W{len(lines) + 1}", f"{name}.{socket}", kind, chance.choice(ORDER)))
        signals = '{ 1 = "L", 2 = "L", 3 = "L", 4 = "L" }'
        text += unit(name, inputs=signals, more=f"bridged = {bridged}".replace("'", '"') if bridged else "")
    return text, lines


def outboard(chance):
    """Make three amplifiers without processing behind a processor that has an output for each zone."""
    outputs = {zone: f"DP.{number}" for number, zone in enumerate(ORDER, start=1)}
    routes = 'routes = { 1 = "1", 2 = "1", 3 = "1" }'
    text, lines = unit("DP", "dsp", '{ 1 = "L" }', routes), []
    for name in ("S1", "S2", "S3"):
        inputs = []
        for channel, socket in enumerate("AB", start=1):
            if chance.random() < 0.3:
                continue
            zone = chance.choice(ORDER)
            inputs.append(f'{channel} = "{outputs[zone]}"')
            lines.append((f"W{len(lines) + 1}", f"{name}.{socket}", "top", zone))
        text += unit(name, "plain", f"{{ {', '.join(inputs)} }}")
    return text, lines


def made(text, lines):
    for name, start, kind, zone in lines:
        kind = "top" if zone == "mon" and kind == "bi-amp" else kind  # noqa: PLW2901
        more = 'side = "left"' + ('\ndrive = "bi-amp"' if kind == "bi-amp" else "")
        text += box(f"B{name}", zone, more=more) + run(name, start, step(LEADS[kind], "5 m", f"B{name}"))
    return losing_show(text.replace('signals = { left = "Mix" }', 'signals = { left = "L" }'), links=False)


def set_anew(show, starts, bridged):
    """Give the rig with its plugs in these sockets and pairs of channels set so; inputs follow what is plugged."""
    runs = [{**item, "from": start, "feeds": {}} for item, start in zip(show["runs"], starts, strict=True)]
    units = [{**item, "bridged": bridged.get(item["id"], item.get("bridged", []))} for item in show["rack_units"]]
    return {**show, "runs": runs, "rack_units": units}


def used(rig):
    """Give the channels that each run plays from."""
    found = {}
    for output, feds in rig.outputs.items():
        for fed in feds:
            found.setdefault(fed.run, set()).update(channels_of(output))
    return found


def fair(show, starts, bridged):
    """What plays gives way only to what takes its socket or a channel of it, and to nothing that comes after it.

    Where it stays, its channels stay set as they are.
    """
    before, after = Plugged(show), Plugged(set_anew(show, starts, bridged))
    was, now = used(before), used(after)
    boxes = {item["id"]: item["zone"] for item in show["boxes"]}
    rank = {item["id"]: ORDER.index(boxes[item["path"][-1]["box"]]) for item in show["runs"]}
    then = dict(zip(rank, starts, strict=True))
    home = {item["id"]: item["from"] for item in show["runs"]}
    living = [name for name, start in home.items() if not start.startswith("S1.")]
    if any(then[name] == home[name] and was.get(name) != now.get(name) for name in living):
        return False
    # Whoever gives way does so in the end for what was silent: two that play never make room for each other.
    begun = {name for name in home if name not in living and then[name] != home[name]}
    waiting = [name for name in living if then[name] != home[name]]
    while waiting:
        for name in waiting:
            takers = [
                rank[other]
                for other in begun
                if then[other] and (then[other] == home[name] or now.get(other, set()) & was.get(name, set()))
            ]
            if takers and min(takers) <= rank[name] and (then[name] or min(takers) < rank[name]):
                begun.add(name)
                break
        else:
            return False
        waiting.remove(name)
    return True


def holds(show, starts, bridged):
    """Tell whether a rig may be live: what is on an output wants the same, nothing is overloaded, no box half fed."""
    rig = Plugged(set_anew(show, starts, bridged))
    before = Plugged(show)
    modes = {fed.run: before.bridged(output) for output, feds in before.outputs.items() for fed in feds}
    zones = {item["id"]: item["zone"] for item in show["boxes"]}
    heard = Counter()
    for output, feds in rig.outputs.items():
        if not feds or output.startswith("S1."):
            continue
        outboard_host = "DP" in rig.units and not rig.model(output.partition(".")[0]).get("hosts")
        wants = {(fed.name, zones[fed.box] if outboard_host else "") for fed in feds}
        # A single output is never made a bridged one; what needs a place for its preset gets one or is not moved.
        if len(wants) > 1 or (rig.bridged(output) and not all(modes[fed.run] for fed in feds)):
            return False
        if set(rig.errors(output)) - {"no host for a crossover"}:
            return False
        heard.update(fed.box for fed in feds)
    drives = {item["id"]: 2 if item.get("drive") == "bi-amp" else 1 for item in show["boxes"]}
    live = [r["path"][-1]["box"] for r, start in zip(show["runs"], starts, strict=True) if start and start[:3] != "S1."]
    return all(heard[name] == drives[name] for name in live)


def best_by_trying(show, alive):
    """Give the silent boxes by priority of the best way to plug and to set, of all that there are."""
    was = [item["from"] for item in show["runs"]]
    zones = [next(b["zone"] for b in show["boxes"] if b["id"] == r["path"][-1]["box"]) for r in show["runs"]]
    able = [name for name in ("S2", "S3") if name in Plugged(show).units and Plugged(show).model(name)["channels"] == 4]
    ways = [[], ["1+2"], ["3+4"], ["1+2", "3+4"]]
    best = None
    for starts in itertools.product(*[[start, "", *(one for one in alive if one != start)] for start in was]):
        plugged = [start for start in starts if start]
        silent = Counter(zones[n] for n, start in enumerate(starts) if not start or start.startswith("S1."))
        score = [silent[zone] for zone in ORDER]
        if len(set(plugged)) < len(plugged) or (best is not None and score >= best):
            continue
        for chosen in itertools.product(ways, repeat=len(able)):
            bridged = dict(zip(able, chosen, strict=True))
            if fair(show, starts, bridged) and holds(show, starts, bridged):
                best = score
                break
    return best


@pytest.mark.parametrize("seed", seeds(3))
@pytest.mark.parametrize("make", [hosting, outboard])
def test_no_way_to_plug_and_set_leaves_less_silent(make, seed):
    chance = random.Random(f"{make.__name__} {seed}")
    text, lines = make(chance)
    show = made(text, lines)
    names = ["S2", "S3"] if make is outboard else ["S2"]
    alive = [f"{name}.{socket}" for name in names for socket in ("AB" if make is outboard else "ABCD")]
    was = [item["from"] for item in plain(show)["runs"]]
    if not holds(plain(show), was, {}) or not any(start.startswith("S1.") for start in was):
        return
    found = fail_over(show, ["S1"])
    assert found.proved
    silent = Counter(item.zone for item in found.stays_silent)
    assert [silent[zone] for zone in ORDER] == best_by_trying(plain(show), alive)
    assert put_back(found.show, "S1") == show
