"""A checker of plans, written from the requirements. It shares no code with the planner, the rig or the checks.

It follows every run by hand, with plain dictionaries: pins from the amplifier's connector to each box, ohms on each
output, plugs on connectors, and pieces taken from the stock.
"""

from __future__ import annotations

from collections import Counter, defaultdict

import msgspec


def faults(before, after):
    """List what is wrong with a plan, in words; an empty list is a plan that can be plugged."""
    show = msgspec.to_builtins(after, enc_hook=str)
    old = msgspec.to_builtins(before, enc_hook=str)
    return [*_plugs(show), *_sections(show, after), *_loads(show, after), *_stock(show), *_untouched(old, show)]


def _table(show, name):
    return {thing["id"]: thing for thing in show.get(name, ())}


def _units(show):
    """Amplifiers by label: model, bridged pairs; those of racks as built included."""
    found = {}
    built = _table(show, "built_racks")
    for rack in show.get("racks", ()):
        for number, inside in enumerate(built.get(rack.get("as_built"), {}).get("contents", ()), 1):
            found[f"{rack['id']}-{number}"] = {"model": inside["model"], "bridged": inside.get("bridged", ())}
    for unit in show.get("rack_units", ()):
        own = found.setdefault(unit["id"], {"model": unit["model"], "bridged": ()})
        own["bridged"] = unit.get("bridged") or own["bridged"]
    return found


def _pins(show, start):
    """Pair -> output at the connector that a run starts from."""
    name, _, connector = start.partition(".")
    units = _units(show)
    if name in units:
        model = _table(show, "amplifiers")[units[name]["model"]]
        bridged = set(units[name]["bridged"])
        own = model.get("connectors", {}).get(connector, {})
        changed = model.get("connectors_bridged", {}).get(connector, {})
        if set(changed.values()) & bridged:
            own = changed
        return {p: f"{name}.{c}" for p, c in own.items() if "+" not in c or c in bridged}
    rack = _table(show, "racks")[name]
    panel = _table(show, "built_racks")[rack["as_built"]]["panel"][connector]
    return {p: f"{name}-{place.partition('.')[0]}.{place.partition('.')[2]}" for p, place in panel.items()}


def _follow(show, run):
    """Yield (box, pair at the box, output) for all pairs that arrive at each box of a run."""
    pins = _pins(show, run["from"])
    feeds = run.get("feeds") or pins
    here = {pair: output for pair, output in feeds.items() if pins.get(pair) == output}
    for step in run["path"]:
        if "cable" in step:
            cable = _table(show, "cables")[step["cable"]]
            carried = cable.get("pins") or {str(n): str(n) for n in range(1, cable.get("cores", 2) // 2 + 1)}
        elif "adaptor" in step:
            adaptor = _table(show, "adaptors")[step["adaptor"]]
            carried = adaptor.get("pins") or {pair: pair for pair in here}
        else:
            carried = _table(show, "panels")[step["panel"]]["sockets"][step["socket"]]
        here = {carried[pair]: output for pair, output in here.items() if pair in carried}
        if "box" in step:
            for pair, output in here.items():
                yield step["box"], pair, output


def _plugs(show):
    """One plug goes into one connector; runs that share it go through one lead with a name."""
    starts = defaultdict(list)
    for run in show.get("runs", ()):
        starts[run["from"]].append(run)
    for start, runs in starts.items():
        if len(runs) > 1 and len({run["path"][0].get("shared") or run["id"] for run in runs}) > 1:
            yield f"{start}: {len(runs)} plugs in one connector"
    taken = defaultdict(set)
    for run in show.get("runs", ()):
        for pair, output in (run.get("feeds") or {}).items():
            if _pins(show, run["from"]).get(pair) != output:
                yield f"{run['id']}: pair {pair} of {run['from']} does not carry {output}"
            taken[output].add(run["id"])
    boxes = Counter(step["box"] for run in show.get("runs", ()) for step in run["path"] if "box" in step)
    yield from (f"{name}: plugged {count} times" for name, count in boxes.items() if count > 1)
    speakers, models = _table(show, "loudspeakers"), _table(show, "boxes")
    for run in show.get("runs", ()):
        for step in run["path"][:-1]:
            model = speakers.get(models[step["box"]].get("model")) if "box" in step else None
            if model and model.get("connectors", 2) < 2:
                yield f"{run['id']}: goes on behind {step['box']}, which has one connector"


def _drive(box, speaker):
    drives = [section["drive"] for section in speaker["sections"]]
    return box.get("drive") or ("passive" if "passive" in drives else drives[0])


def _arrivals(show):
    found = defaultdict(dict)
    for run in show.get("runs", ()):
        for box, pair, output in _follow(show, run):
            found[box][pair] = output
    return found


def _sections(show, after):
    """Every section of a box on a run is fed, each pair from an output of its own, and by nothing but its own band."""
    speakers, boxes, zones = (_table(show, name) for name in ("loudspeakers", "boxes", "zones"))
    bands = defaultdict(set)
    for name, pairs in _arrivals(show).items():
        box = boxes[name]
        if "unknown" in box:
            continue
        speaker = speakers[box["model"]]
        wanted = {
            str(s.get("pair", 1)): s["section"] for s in speaker["sections"] if s["drive"] == _drive(box, speaker)
        }
        for pair, section in wanted.items():
            if pair not in pairs:
                yield f"{name}: nothing arrives at its {section} section"
            else:
                side = box.get("side", "")
                signal = zones[box["zone"]].get("signals", {}).get(side, side)  # sides with one signal may share
                bands[pairs[pair]].add((section, box["zone"], signal))
        if len({pairs[pair] for pair in wanted if pair in pairs}) < len(wanted):
            yield f"{name}: two sections on one output"
    for output, served in bands.items():
        if len({section for section, _, _ in served}) > 1:
            yield f"{output}: several bands {served}"
        if len({(zone, side) for _, zone, side in served}) > 1:
            yield f"{output}: several zones or sides {served}"
    del after


def _loads(show, after):
    """No output is loaded below the minimum load of its amplifier (2 % of tolerance, as data sheets round)."""
    speakers, boxes = _table(show, "loudspeakers"), _table(show, "boxes")
    units, amplifiers = _units(show), _table(show, "amplifiers")
    siemens = defaultdict(float)
    for name, pairs in _arrivals(show).items():
        box = boxes[name]
        sections = (
            [{"impedance": box["unknown"]["impedance"], "drive": "passive"}]
            if "unknown" in box
            else speakers[box["model"]]["sections"]
        )
        drive = "passive" if "unknown" in box else _drive(box, speakers[box["model"]])
        for section in sections:
            output = pairs.get(str(section.get("pair", 1)))
            if section["drive"] == drive and output and section.get("impedance"):
                siemens[output] += 1.0 / float(str(section["impedance"]).split()[0])
    for output, total in siemens.items():
        model = amplifiers[units[output.partition(".")[0]]["model"]]
        bridged = "+" in output
        table = [rating for rating in model["powers"] if rating.get("bridged", False) == bridged]
        doubled = 1.0
        if bridged and not table:
            table, doubled = [rating for rating in model["powers"] if not rating.get("bridged", False)], 2.0
        marked = [rating for rating in table if rating.get("minimum")] or table
        minimum = doubled * min(float(str(rating["load"]).split()[0]) for rating in marked)
        if 1.0 / total < 0.98 * minimum:
            yield f"{output}: {1.0 / total:.2f} ohm, minimum {minimum} ohm"
    del after


def _stock(show):
    """Nothing is used beyond the stock, where the stock names it; out of service counts as gone."""
    have, lengths = Counter(), defaultdict(list)
    for item in show.get("stock", ()):
        number = item.get("owned", 0) + item.get("hired", 0) - item.get("out", 0)
        if "length" in item:
            lengths[item["model"]] += [float(str(item["length"]).split()[0])] * number
        else:
            have[item["model"]] += number
    used = Counter(unit["model"] for name, unit in _units(show).items() if not _in_built(show, name))
    used.update(rack["as_built"] for rack in show.get("racks", ()) if "as_built" in rack)
    pieces, seen = defaultdict(list), set()
    for run in show.get("runs", ()):
        for step in run["path"]:
            kind = next(key for key in ("cable", "adaptor", "panel") if key in step)
            key = (step.get("shared"), step[kind])
            if step.get("shared") and key in seen:
                continue
            seen.add(key)
            if kind == "cable":
                pieces[step["cable"]].append(float(str(step["length"]).split()[0]))
            else:
                used[step[kind]] += 1
    listed = {item["model"] for item in show.get("stock", ()) if "length" not in item}
    boxes = {box.get("model") for box in show.get("boxes", ())}
    for model, number in used.items():
        if model in listed and model not in boxes and number > have[model]:
            yield f"{model}: {number} in use, {have[model]} there"
    del lengths  # what is short of cable, the plan says itself: it is laid in the length that is missing


def _in_built(show, name):
    built = _table(show, "built_racks")
    return any(
        name == f"{rack['id']}-{number}"
        for rack in show.get("racks", ())
        for number in range(1, len(built.get(rack.get("as_built"), {}).get("contents", ())) + 1)
    )


def _untouched(old, show):
    """Runs, zones and boxes that were there are there still; a box may have its drive written down."""
    runs = _table(show, "runs")
    for name, run in _table(old, "runs").items():
        kept = runs.get(name)
        if kept is None or kept["from"] != run["from"] or kept["path"][: len(run["path"])] != run["path"]:
            yield f"{name}: the run was changed"
    if old.get("zones") != show.get("zones"):
        yield "the zones were changed"
    for box, now in zip(old.get("boxes", ()), show.get("boxes", ()), strict=True):
        if {k: v for k, v in box.items() if k != "drive"} != {k: v for k, v in now.items() if k != "drive"}:
            yield f"{box['id']}: the box was changed"


def spare_outputs(after):
    """List the outputs that drive nothing and have a connector of their own free, of amplifiers that stand in no panel."""
    show = msgspec.to_builtins(after, enc_hook=str)
    used = {output for pairs in _arrivals(show).values() for output in pairs.values()}
    busy = {f"{o.partition('.')[0]}.{c}" for o in used for c in o.partition(".")[2].split("+")}
    starts = {run["from"] for run in show.get("runs", ())}
    found = []
    for name, unit in _units(show).items():
        connectors = _table(show, "amplifiers").get(unit["model"], {}).get("connectors", {})
        for connector, pairs in connectors.items():
            output = f"{name}.{pairs.get('1')}"
            if "1" in pairs and output not in busy and output not in found and f"{name}.{connector}" not in starts:
                found.append(output)
    return found


def shared_sides(after):
    """Give for each zone the amplifiers that carry boxes of more than one side of it."""
    show = msgspec.to_builtins(after, enc_hook=str)
    boxes = _table(show, "boxes")
    carried = defaultdict(set)
    for name, pairs in _arrivals(show).items():
        for output in pairs.values():
            carried[boxes[name]["zone"], output.partition(".")[0]].add(boxes[name].get("side", ""))
    return {unit: zone for (zone, unit), sides in carried.items() if len(sides) > 1}
