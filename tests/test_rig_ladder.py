"""The ladder against worked values, numpy, scikit-rf and our own nodal solver."""

import math

import numpy as np
import pytest
import skrf
from budget import tries
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.formulas.cables import loop_resistance
from fieldkit.formulas.conductors import class_5_resistance
from fieldkit.rig.solve.ladder import Rung, looking_in, node_volts
from fieldkit.rig.solve.network import GROUND, Branch, VoltageSource, seen_ohm, solve

OHMS = st.floats(0.01, 10.0)
BOXES = st.floats(2.0, 32.0)
LADDERS = st.lists(st.tuples(OHMS, BOXES), min_size=1, max_size=8)


def rungs_of(pairs):
    return [Rung(along, (across,)) for along, across in pairs]


def by_nodal_numpy(source_v, pairs):
    """Solve the ladder as a plain linear system: an engine that shares no code with ours."""
    size = len(pairs)
    conductance, current = np.zeros((size, size)), np.zeros(size)
    for index, (along, across) in enumerate(pairs):
        conductance[index, index] += 1 / along + 1 / across
        if index == 0:
            current[0] = source_v / along
        else:
            conductance[index - 1, index - 1] += 1 / along
            conductance[index, index - 1] -= 1 / along
            conductance[index - 1, index] -= 1 / along
    return np.linalg.solve(conductance, current)


def by_abcd_scikit_rf(source_v, pairs):
    """Chain the ladder's two-ports with scikit-rf: volts at the far end, load at the near end."""
    media = skrf.media.DefinedGammaZ0(skrf.Frequency(1, 1, 1, "kHz"), z0=50)
    network = None
    for along, across in pairs:
        step = media.resistor(along) ** media.shunt(media.resistor(across) ** media.short())
        network = step if network is None else network**step
    a, _, c, _ = network.a[0].ravel()
    return abs(source_v / a), abs(a / c)


def test_three_boxes_as_computed_elsewhere():
    # Computed by a nodal solve and by scikit-rf ABCD, which agree: 40 V behind 0.02 Ω; 25 m of 4 mm² class 5,
    # box 8 Ω, 5 m, box 8 Ω, 5 m, box 8 Ω.
    per_m = class_5_resistance(4.0)
    first = loop_resistance(25.0, per_m) + 0.02
    link = loop_resistance(5.0, per_m)
    rungs = rungs_of([(first, 8.0), (link, 8.0), (link, 8.0)])
    seen = looking_in(rungs)
    volts = node_volts(rungs, 40.0, seen)
    assert volts == pytest.approx([36.387, 35.944, 35.723], rel=2e-4)
    assert seen[0] == pytest.approx(2.9615, rel=2e-4)
    assert [v * v / 8.0 for v in volts] == pytest.approx([165.5, 161.5, 159.5], rel=4e-4)


@given(LADDERS, st.floats(1.0, 100.0))
@tries(25)
def test_ladder_agrees_with_numpy(pairs, source_v):
    rungs = rungs_of(pairs)
    assert node_volts(rungs, source_v, looking_in(rungs)) == pytest.approx(by_nodal_numpy(source_v, pairs), rel=1e-9)


@given(LADDERS)
@tries(10)
def test_ladder_agrees_with_scikit_rf(pairs):
    rungs = rungs_of(pairs)
    seen = looking_in(rungs)
    far_v, near_ohm = by_abcd_scikit_rf(40.0, pairs)
    assert node_volts(rungs, 40.0, seen)[-1] == pytest.approx(far_v, rel=1e-6)
    assert seen[0] == pytest.approx(near_ohm, rel=1e-6)


@given(st.lists(st.tuples(OHMS, BOXES, st.floats(-20.0, 20.0)), min_size=1, max_size=6), st.floats(1.0, 100.0))
@tries(25)
def test_ladder_agrees_with_our_nodal_solver_on_complex_loads(rows, source_v):
    rungs = [Rung(complex(along), (complex(ohm, reactance),)) for along, ohm, reactance in rows]
    parts, before = [], "s"
    for index, (along, ohm, reactance) in enumerate(rows):
        parts += [Branch(before, f"n{index}", along), Branch(f"n{index}", GROUND, complex(ohm, reactance))]
        before = f"n{index}"
    seen = looking_in(rungs)
    ours = node_volts(rungs, complex(source_v), seen)
    nodal = solve(parts, [VoltageSource("s", GROUND, source_v, 1e-9)])
    assert ours == pytest.approx([nodal[f"n{index}"] for index in range(len(rows))], rel=1e-6)
    assert seen_ohm(parts, "s", GROUND) == pytest.approx(seen[0], rel=1e-6)


def test_behind_the_last_load_nothing_flows():
    rungs = [Rung(0.5, (8.0,)), Rung(0.5)]
    seen = looking_in(rungs)
    volts = node_volts(rungs, 10.0, seen)
    assert seen == [pytest.approx(8.5), None]
    assert volts[1] == volts[0] == pytest.approx(10.0 * 8.0 / 8.5)


def test_a_line_without_loads_has_no_load():
    assert looking_in([Rung(0.5)]) == [None]
    assert looking_in([]) == []


def test_several_loads_at_one_point_are_parallel():
    assert looking_in([Rung(0.0, (8.0, 8.0))])[0] == pytest.approx(4.0)


@given(LADDERS, st.floats(0.1, 5.0))
def test_more_resistance_means_fewer_volts_at_the_last_box(pairs, more):
    longer = [(pairs[0][0] + more, pairs[0][1]), *pairs[1:]]
    near, far = rungs_of(pairs), rungs_of(longer)
    assert node_volts(far, 10.0, looking_in(far))[-1] < node_volts(near, 10.0, looking_in(near))[-1]


@given(LADDERS, st.floats(0.1, 10.0))
def test_volts_scale_with_the_source(pairs, factor):
    rungs = rungs_of(pairs)
    seen = looking_in(rungs)
    scaled = [volts * factor for volts in node_volts(rungs, 10.0, seen)]
    assert node_volts(rungs, 10.0 * factor, seen) == pytest.approx(scaled, rel=1e-12)


# Crossed wires in a bi-amp four-core run, computed by nodal analysis apart from this program: low section 8 Ω, high 16 Ω,
# 0.1 Ω a core, 40 V low signal on channel 1, 20 V high signal on channel 2. Volts at the low and high section from
# channel 1, then from channel 2. Each row is printed to 0.1 V (19.75 to 0.01).
CROSSED = {
    "correct": {
        "common": (39.0, 0, 0, 19.75),
        "bridge-tied": (39.0, 0, 0, 19.75),
        "alternate": (39.0, 0, 0, 19.75),
    },
    "pairs crossed": {
        "common": (0, 39.5, 19.5, 0),
        "bridge-tied": (0, 39.5, 19.5, 0),
        "alternate": (0, 39.5, 19.5, 0),
    },
    "minus wires crossed": {
        "common": (39.0, 0, 0, 19.75),
        "bridge-tied": (19.5, 19.75, 9.8, 9.9),
        "alternate": (39.0, 0, 19.5, 0),
    },
    "minus of pair 1 open": {
        "common": (0, 0, 0, 19.75),
        "bridge-tied": (0, 0, 0, 19.75),
        "alternate": (0, 0, 0, 19.75),
    },
    "two cores on pair 1 only": {
        "common": (39.0, 0, 0, 0),
        "bridge-tied": (39.0, 0, 0, 0),
        "alternate": (39.0, 0, 0, 0),
    },
}
WIRES = {
    "correct": {"1+": "1+", "1-": "1-", "2+": "2+", "2-": "2-"},
    "pairs crossed": {"1+": "2+", "1-": "2-", "2+": "1+", "2-": "1-"},
    "minus wires crossed": {"1+": "1+", "1-": "2-", "2+": "2+", "2-": "1-"},
    "minus of pair 1 open": {"1+": "1+", "2+": "2+", "2-": "2-"},
    "two cores on pair 1 only": {"1+": "1+", "1-": "1-"},
}


def sources(topology, channel):
    """Give the two outputs with one of them driven; the other is a short circuit, as an output is."""
    volts = {1: 40.0 if channel == 1 else 0.0, 2: 20.0 if channel == 2 else 0.0}
    result = []
    for number in (1, 2):
        plus, minus, level = f"amp{number}+", f"amp{number}-", volts[number]
        if topology == "bridge-tied":  # both posts driven against ground, half each
            result += [VoltageSource(plus, GROUND, level / 2), VoltageSource(GROUND, minus, level / 2)]
        elif topology == "alternate" and number == 2:  # the hot post of channel 2 is its minus
            result += [VoltageSource(plus, GROUND, 0.0), VoltageSource(GROUND, minus, level)]
        else:
            result += [VoltageSource(plus, GROUND, level), VoltageSource(minus, GROUND, 0.0)]
    return result


@pytest.mark.parametrize("wiring", CROSSED)
@pytest.mark.parametrize("topology", ["common", "bridge-tied", "alternate"])
def test_crossed_wires_as_computed_elsewhere(wiring, topology):
    parts = [Branch(f"amp{near}", f"box{far}", 0.1) for near, far in WIRES[wiring].items()]
    parts += [Branch("box1+", "box1-", 8.0), Branch("box2+", "box2-", 16.0)]
    found = []
    for channel in (1, 2):
        volts = solve(parts, sources(topology, channel))
        found += [abs(volts["box1+"] - volts["box1-"]), abs(volts["box2+"] - volts["box2-"])]
    assert found == pytest.approx(CROSSED[wiring][topology], abs=0.06)


def test_a_part_of_no_impedance_is_refused():
    with pytest.raises(ValueError, match="expected an impedance above 0 ohm"):
        solve([Branch("a", GROUND, 0.0)])


def test_what_hangs_in_the_air_reads_open():
    assert abs(seen_ohm([Branch("a", "b", 8.0)], "a", "c")) > 1e8
    assert seen_ohm([Branch("a", "b", 8.0)], "a", "b").real == pytest.approx(8.0)


# Loop + Re/n, worked by hand: Re 6, loop 0.25: 6.25, 3.25, 2.25, 1.75 Ω for one to four boxes.
@pytest.mark.parametrize(("boxes", "ohm"), [(1, 6.25), (2, 3.25), (3, 2.25), (4, 1.75)])
def test_dc_reading_at_the_amplifier_end(boxes, ohm):
    assert looking_in([Rung(0.25, (6.0,) * boxes)])[0] == pytest.approx(ohm)


# Kirchhoff: k of n boxes missing multiplies the reading by n/(n−k).
@pytest.mark.parametrize(("n", "left", "factor"), [(4, 3, 1.333), (3, 2, 1.5), (6, 5, 1.2), (8, 7, 1.143)])
def test_missing_boxes_raise_the_reading(n, left, factor):
    whole, less = (looking_in([Rung(0.0, (6.0,) * count)])[0] for count in (n, left))
    assert less / whole == pytest.approx(factor, abs=5e-4)


def test_short_reads_about_the_loop_up_to_it():
    # IEC 60228 table 3: 20 m of 2.5 mm² class 5 to the short.
    loop = loop_resistance(20.0, class_5_resistance(2.5))
    assert looking_in([Rung(loop, (8.0, 1e-6))])[0] == pytest.approx(loop, abs=1e-5)
    assert math.isclose(loop, 0.3192, abs_tol=5e-5)
