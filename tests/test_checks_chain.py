"""Rules about the chain and about coverage: each tripped once, and once on the right side of its limit."""

import msgspec
import pytest

from fieldkit.checks.checking import check
from fieldkit.rig.signal.sharing import sharing
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.samples import folder
from fieldkit.show.edits import changed, find, with_thing
from fieldkit.show.keep.storage import load
from fieldkit.show.position import Position

MUSICAL = load(folder() / "school_musical.toml").show
OPEN_AIR = load(folder() / "open_air.toml").show


def put(show, table, name, **values):
    return with_thing(show, table, changed(find(show, table, name), **values))


def about(show, **values):
    return msgspec.structs.replace(show, about=changed(show.about, **values))


def found(show, rule):
    return [item for item in check(evaluate(show)) if item.rule == rule]


def hosting(show, **values):
    """Give the musical with another ability of its processor's outputs."""
    model = find(show, "processors", "processor-four-by-eight")
    return with_thing(show, "processors", msgspec.structs.replace(model, hosts=changed(model.hosts, **values)))


@pytest.mark.parametrize("show", [MUSICAL, OPEN_AIR])
def test_the_samples_have_nothing_of_it(show):
    assert not [item for item in check(evaluate(show)) if item.rule in CASES]


def test_another_signal_than_the_zone_wants():
    crossed = put(OPEN_AIR, "rack_units", "DLY", inputs={"1": "R", "3": "L"})
    assert {item.where.id for item in found(crossed, "wrong-signal")} == {"DLY.1", "DLY.3"}
    routed = put(MUSICAL, "rack_units", "DP", routes={"3": "1"})
    assert [item.where.id for item in found(routed, "wrong-signal")] == ["A4.1"]
    mixed = put(MUSICAL, "rack_units", "DP", routes={"3": "1+2"})
    assert not found(mixed, "wrong-signal")
    assert not found(put(MUSICAL, "rack_units", "DP", routes={}), "wrong-signal")  # not planned is no fault


def test_a_desk_that_clips_first():
    # A1 needs 66.93 V and more at its output; less 27.59 dB of gain that is about +10.5 dBu.
    assert "A1.1" in {item.where.id for item in found(about(MUSICAL, desk_clip="9 dBu"), "chain-clips-first")}
    assert not found(about(MUSICAL, desk_clip="14 dBu"), "chain-clips-first")


def test_a_threshold_below_what_the_host_can():
    # The lowest threshold of the musical is that of the wedges, +3.7 dBu.
    low = found(hosting(MUSICAL, lowest_threshold="3.9 dBu"), "threshold-out-of-range")
    assert {item.where.id for item in low} == {"A5.1", "A5.2"}
    assert not found(hosting(MUSICAL, lowest_threshold="3.6 dBu"), "threshold-out-of-range")


def test_boxes_of_one_host_that_want_different_settings():
    show = put(MUSICAL, "boxes", "SUBE", delay="2 ms")
    assert [item.where.id for item in found(show, "settings-on-one-host")] == ["DP.4"]
    both = put(show, "boxes", "SUBW", delay="2 ms")
    assert not found(both, "settings-on-one-host")


def test_a_delay_beyond_its_host():
    assert [item.where.id for item in found(hosting(MUSICAL, longest_delay="11 ms"), "delay-beyond-host")] == ["DP.3"]
    assert not found(hosting(MUSICAL, longest_delay="12 ms"), "delay-beyond-host")


def test_a_delay_without_a_host():
    model = find(MUSICAL, "processors", "processor-four-by-eight")
    show = with_thing(MUSICAL, "processors", msgspec.structs.replace(model, hosts=None))
    assert {item.where.id for item in found(show, "delay-has-no-host")} == {"A3.1", "A3.2", "A4.1"}


def test_a_zone_timed_to_another_wants_its_distances():
    timed = next(zone for zone in OPEN_AIR.zones if zone.timed_to and zone.reference_distance)
    plain = msgspec.structs.replace(timed, reference_distance=None, own_distance=None, listeners=None, delay=None)
    lacking = with_thing(OPEN_AIR, "zones", plain)
    assert [item.where.id for item in found(lacking, "timing-lacks-distance")] == [timed.id]
    assert not found(
        put(lacking, "zones", timed.id, delay="140 ms"), "timing-lacks-distance"
    )  # measured, and set by hand
    assert not found(OPEN_AIR, "timing-lacks-distance")


@pytest.mark.parametrize(("across", "trips"), [("1.6 m", True), ("1.5 m", False)])
def test_subs_apart(across, trips):
    # 110 Hz at 21 °C: c = 343.78 m/s, half a wavelength 1.563 m (worked by hand).
    show = put(MUSICAL, "boxes", "SUBW", position="0 m, 0 m")
    show = put(show, "boxes", "SUBE", position=f"0 m, {across}")
    assert bool(found(show, "subs-far-apart")) == trips


@pytest.mark.parametrize(("spacing", "trips"), [("7.3 m", True), ("7.2 m", False)])
def test_fills_apart(spacing, trips):
    # 120° fills, listeners at 2.1 m: 2 · 2.1 · tan 60° = 7.27 m (worked by hand).
    show = put(MUSICAL, "boxes", "F1", position="0 m, 0 m")
    show = put(show, "boxes", "F2", position=f"0 m, {spacing}")
    assert bool(found(show, "fills-leave-gaps")) == trips


@pytest.mark.parametrize(("along", "trips"), [("1.0 m", True), ("1.2 m", False)])
def test_fills_meet_behind_a_listening_place(along, trips):
    # Fields of 120° from boxes 4 m apart meet 4 / 2 / tan 60° = 1.155 m in front of them (by geometry).
    show = put(MUSICAL, "boxes", "F1", position="0 m, 0 m")
    show = put(show, "boxes", "F2", position="0 m, 4 m")
    zone = find(show, "zones", "fills")
    here = msgspec.structs.replace(
        zone, own_distance=None, reference_distance=None, listeners=Position(f"{along}, 0 m")
    )
    assert bool(found(with_thing(show, "zones", here), "fills-leave-gaps")) == trips


@pytest.mark.parametrize(("target", "trips"), [("106 dB", True), ("104 dB", False)])
def test_level_at_the_last_row(target, trips):
    # One wedge, 96 dB at a watt, held at 280 W: 96 + 24.5 dB at 1 m, 104.9 dB at 6 m (worked by hand, less the cable).
    show = put(MUSICAL, "zones", "band", target=target, throw="6 m")
    assert bool(found(show, "level-not-reached")) == trips


def with_outputs(show, count):
    """Give the musical with a processor of fewer outputs, and everything fed as far as it goes."""
    model = find(show, "processors", "processor-four-by-eight")
    units = []
    for unit in show.rack_units:
        kept = {key: source for key, source in unit.inputs.items() if not source.startswith("DP.") or source < "DP.5"}
        routes = {key: value for key, value in unit.routes.items() if key < "5"}
        units.append(msgspec.structs.replace(unit, inputs=kept, routes=routes))
    boxes = tuple(msgspec.structs.replace(box, input="") for box in show.boxes)
    small = with_thing(show, "processors", msgspec.structs.replace(model, outputs=count))
    return msgspec.structs.replace(small, rack_units=tuple(units), boxes=boxes)


def test_what_may_share_a_processor_output():
    found = sharing(evaluate(MUSICAL))
    # All four sides of the round are one need; subs, fills and two mixes of wedges are four more.
    assert [need.outputs for need in found.needs] == [
        ("A1.1", "A1.2", "A2.1", "A2.2"), ("A3.1", "A3.2"), ("A4.1",), ("A5.1",), ("A5.2",),
    ]  # fmt: skip
    assert found.outputs == 7  # the eighth feeds the green room
    assert found.short == 0


def test_too_few_processor_outputs_say_what_would_merge():
    show = with_outputs(MUSICAL, 4)
    (item,) = found(show, "processor-outputs-short")
    assert "5 different needs of processing, and 4 processor outputs" in item.says
    assert "merge A5.1 with A5.2 (Mix 1 and Mix 2 become one signal)" in item.fix
    merges = sharing(evaluate(show)).merges
    assert {merge.first.preset for merge in merges} == {"passive-wedge"}  # nothing else has a preset in common
    assert not found(with_outputs(MUSICAL, 5), "processor-outputs-short")


def without_hosts():
    model = find(MUSICAL, "processors", "processor-four-by-eight")
    return with_thing(MUSICAL, "processors", msgspec.structs.replace(model, hosts=None))


def two(id_one, id_other, apart):
    show = put(MUSICAL, "boxes", id_one, position="0 m, 0 m")
    return put(show, "boxes", id_other, position=f"0 m, {apart}")


def untimed():
    timed = next(zone for zone in OPEN_AIR.zones if zone.timed_to and zone.reference_distance)
    bare = msgspec.structs.replace(timed, reference_distance=None, own_distance=None, listeners=None, delay=None)
    return with_thing(OPEN_AIR, "zones", bare)


CASES = {
    "wrong-signal": (put(OPEN_AIR, "rack_units", "DLY", inputs={"1": "R", "3": "L"}), OPEN_AIR),
    "chain-clips-first": (about(MUSICAL, desk_clip="9 dBu"), about(MUSICAL, desk_clip="14 dBu")),
    "threshold-out-of-range": (hosting(MUSICAL, lowest_threshold="3.9 dBu"), hosting(MUSICAL, lowest_threshold="3.6 dBu")),
    "settings-on-one-host": (put(MUSICAL, "boxes", "SUBE", delay="2 ms"), MUSICAL),
    "delay-has-no-host": (without_hosts(), MUSICAL),
    "delay-beyond-host": (hosting(MUSICAL, longest_delay="11 ms"), hosting(MUSICAL, longest_delay="12 ms")),
    "subs-far-apart": (two("SUBW", "SUBE", "1.6 m"), two("SUBW", "SUBE", "1.5 m")),
    "fills-leave-gaps": (two("F1", "F2", "7.3 m"), two("F1", "F2", "7.2 m")),
    "level-not-reached": tuple(put(MUSICAL, "zones", "band", target=level, throw="6 m") for level in ("106 dB", "104 dB")),
    "processor-outputs-short": (with_outputs(MUSICAL, 4), with_outputs(MUSICAL, 5)),
    "timing-lacks-distance": (untimed(), OPEN_AIR),
}  # fmt: skip
"""Rule -> the edit of a sample show that trips it, and its neighbour that does not."""
