"""Fail-over against trying everything: every way to plug a small rig, judged on its pins by what shares no code."""

import itertools
from collections import Counter
from pathlib import Path

from failing_rigs import Plugged, losing_show, plain, unit
from hypothesis import given, settings
from hypothesis import strategies as st
from rigs import box, run, step

from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.planning.failover.returning import put_back
from fieldkit.planning.failover.stands import GOALS

ORDER = ("mains", "fill", "mon")
SOCKETS = [f"{name}.{socket}" for name in ("S1", "S2") for socket in "ABCD"]


def small(places, kinds):
    """Make two amplifiers of four channels with lines in some sockets; A and C carry two channels, B and D the second."""
    signals = '{ 1 = "L", 2 = "L", 3 = "L", 4 = "L" }'
    text = unit("S1", inputs=signals) + unit("S2", inputs=signals)
    text += '[[stock]]\nmodel = "four"\nowned = 2\n'
    for number, (start, (zone, bi)) in enumerate(zip(places, kinds, strict=False), start=1):
        two = bi and start[-1] in "AC" and zone != "mon"
        text += box(f"B{number}", zone, more='side = "left"' + ('\ndrive = "bi-amp"' if two else ""))
        text += run(f"W{number}", start, step("four-core" if two else "two", "5 m", f"B{number}"))
    return losing_show(text.replace('signals = { left = "Mix" }', 'signals = { left = "L" }'), links=False)


def stands(show):
    """Give for each output what hangs on it: sections and presets, by run."""
    rig = Plugged(show)
    return rig, {output: feds for output, feds in rig.outputs.items() if feds}


def holds(show):
    """Tell whether a rig may be live: one preset an output, none of them overloaded, both bands of a box or neither."""
    rig, outputs = stands(show)
    for output, feds in outputs.items():
        if output.startswith("S1."):
            continue
        if len({fed.name for fed in feds}) > 1 or list(rig.errors(output)):
            return False
    bands = Counter(fed.box for feds in outputs.values() for fed in feds)
    wanted = {b["id"]: 2 if b.get("drive") == "bi-amp" else 1 for b in show["boxes"]}
    return all(
        bands[item["path"][-1]["box"]] == wanted[item["path"][-1]["box"]] for item in show["runs"] if item["from"]
    )


def best_by_trying(show):
    """Give the silent boxes by priority of the best way to plug, of all that there are."""
    was = [item["from"] for item in show["runs"]]
    zones = [next(b["zone"] for b in show["boxes"] if b["id"] == r["path"][-1]["box"]) for r in show["runs"]]
    rank = {zone: place for place, zone in enumerate(ORDER)}
    failed = {number for number, start in enumerate(was) if start.startswith("S1.")}
    alive = [socket for socket in SOCKETS if socket.startswith("S2.")]
    best = None
    for starts in itertools.product(*[[start, "", *(one for one in alive if one != start)] for start in was]):
        used = [start for start in starts if start]
        if len(set(used)) < len(used):
            continue
        silent = Counter(zones[n] for n, start in enumerate(starts) if not start or start.startswith("S1."))
        score = [silent[zone] for zone in ORDER]
        if best is not None and score >= best:
            continue
        if fair(show, was, starts, zones, rank, failed) and holds(with_starts(show, starts)):
            best = score
    return best


def with_starts(show, starts):
    runs = [{**item, "from": start, "feeds": {}} for item, start in zip(show["runs"], starts, strict=True)]
    return {**show, "runs": runs}


def fair(show, was, starts, zones, rank, failed):
    """What plays gives way only to a line that takes its socket or a channel of it, and to none that comes after it."""
    rig = Plugged(show)
    channels = {start: set(rig.pins(start).values()) if start else set() for start in {*was, *starts}}
    for number, start in enumerate(starts):
        if number in failed or start == was[number]:
            continue
        takers = [
            rank[zones[other]]
            for other, place in enumerate(starts)
            if other != number and place != was[other] and place
            and (place == was[number] or channels[place] & channels[was[number]])
        ]  # fmt: skip
        if not takers or min(takers) > rank[zones[number]] or (not start and min(takers) >= rank[zones[number]]):
            return False
    return True


@settings(max_examples=12, deadline=None)
@given(
    st.lists(st.sampled_from(SOCKETS), min_size=2, max_size=4, unique=True),
    st.lists(st.tuples(st.sampled_from(ORDER), st.booleans()), min_size=5, max_size=5),
)
def test_no_way_to_plug_leaves_less_silent(places, kinds):
    show = small(places, kinds)
    if not holds(plain(show)):
        return
    found = fail_over(show, ["S1"])
    assert found.proved
    silent = Counter(item.zone for item in found.stays_silent)
    assert [silent[zone] for zone in ORDER] == best_by_trying(plain(show))
    assert put_back(found.show, "S1") == show


def test_the_goals_of_the_code_are_those_of_the_guide_for_contributors():
    text = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert "".join(f"| {name} | {why} |\n" for name, why in GOALS.items()) in text
