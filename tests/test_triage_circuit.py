"""A run as a circuit: the quick way of seeing into it against the nodal solver and the ladder, for every fault."""

import pytest
from budget import tries
from hypothesis import given
from hypothesis import strategies as st
from rigs import AMP, MODELS, box, rig_of, run, step

from fieldkit import samples
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.rig.solve.meters import expected_readings
from fieldkit.rig.solve.network import GROUND, Branch, VoltageSource, solve
from fieldkit.show.opening import open_show
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model import edits, netlist
from fieldkit.triage.model.circuit import circuit_of, is_open
from fieldkit.triage.model.odds import table
from fieldkit.triage.model.points import points
from fieldkit.triage.model.seeing import look, views

METERED = MODELS.replace(
    'impedance = "16 ohm", rated_at', 'impedance = "16 ohm", dc_resistance = "11 ohm", inductance = "0.1 mH", rated_at'
)


def biamp(count, lead="four", first="15 m", more="2 m"):
    steps = [step(lead, first if number == 1 else more, f"B{number}") for number in range(1, count + 1)]
    return AMP + "".join(box(f"B{n}", more='drive = "bi-amp"') for n in range(1, count + 1)) + run("W1", "A.A", *steps)


def circuit_and_points(rig, name="W1"):
    lines = [line for line in rig.lines if line.run.id == name]
    circuit = circuit_of(lines, rig.conditions.temperature_c)
    return lines, circuit, points(circuit, {line.pair: line.id for line in lines})


def by_nodes(circuit, point, pair, *, dc):
    if point.kind == "amp":
        return netlist.seen_into_segment(circuit, 0, pair, dc=dc)
    if point.kind == "out":
        return netlist.seen_into_segment(circuit, point.index + 1, pair, dc=dc)
    return netlist.seen_at_station(circuit, point.index, pair, dc=dc, alone=point.kind == "alone")


def agree(one, two):
    return (is_open(one) and is_open(two)) or abs(one - two) <= 2e-6 * abs(two) + 1e-6


def test_every_fault_of_a_bi_amp_run_is_seen_alike_by_ladder_and_nodes():
    case = FaultSearch(rig_of(biamp(3), METERED), ["W1"], table())
    kinds = set()
    for fault in case.faults:
        for circuit in fault.circuits:
            kinds.add(fault.kind)
            for dc in (True, False):
                seen = views(circuit, dc=dc)
                for point in case.points["W1"]:
                    for pair in point.pairs:
                        ours, nodal = look(seen, point, pair).ohm, by_nodes(circuit, point, pair, dc=dc)
                        assert agree(ours, nodal), (fault.kind, fault.at, point.name, pair, dc, ours, nodal)
    assert {"minus-crossed", "pairs-crossed", "short", "not-home", "two-core", "switch-wrong", "box-missing"} <= kinds


def test_views_taken_over_from_the_healthy_run_are_those_worked_out_anew():
    case = FaultSearch(rig_of(biamp(3), METERED), ["W1"], table())
    healthy = case.bench.circuits["W1"]
    known = {dc: views(healthy, dc=dc) for dc in (True, False)}
    for fault in case.faults:
        for circuit in fault.circuits:
            for dc in (True, False):
                assert views(circuit, dc=dc, healthy=(healthy, known[dc])) == views(circuit, dc=dc)


@given(st.integers(1, 6), st.sampled_from(["two", "four", "gauge-twelve"]), st.floats(1, 90), st.floats(1, 30))
@tries(12)
def test_a_healthy_run_reads_as_the_ladder_says(count, lead, first, more):
    text = biamp(count, lead, f"{first:.1f} m", f"{more:.1f} m")
    rig = rig_of(text, METERED)
    lines, circuit, places = circuit_and_points(rig)
    for line in lines:
        for expected in expected_readings(line, rig.conditions.temperature_c):
            point = next(one for one in places if one.name == expected.at and line.id in one.lines)
            pair = point.pairs[point.lines.index(line.id)]
            ours = look(views(circuit, dc=True), point, pair).ohm
            assert is_open(ours) if expected.dc is None else ours == pytest.approx(expected.dc.value, rel=1e-4)
            if expected.z1k is not None:
                assert abs(look(views(circuit, dc=False), point, pair).ohm) == pytest.approx(
                    expected.z1k.value, rel=1e-4
                )


@pytest.mark.parametrize("name", samples.names())
def test_every_run_of_the_samples_reads_as_the_ladder_says(name):
    rig = evaluate(open_show(samples.folder() / f"{name}.toml").show)
    for run_id in {line.run.id for line in rig.lines if line.pieces}:
        lines, circuit, places = circuit_and_points(rig, run_id)
        for line in lines:
            for expected in expected_readings(line, rig.conditions.temperature_c):
                point = next(one for one in places if one.name == expected.at and line.id in one.lines)
                ours = look(views(circuit, dc=True), point, point.pairs[point.lines.index(line.id)]).ohm
                assert is_open(ours) if expected.dc is None else ours == pytest.approx(expected.dc.value, rel=1e-3)


# Crossed wires in a bi-amp four-core run, computed by nodal analysis apart from this program: low section 8 Ω, high
# 16 Ω, 0.1 Ω a core, 40 V low signal on channel 1, 20 V high signal on channel 2. Volts at the low and high section from
# channel 1, then from channel 2, printed to 0.1 V.
CROSSED = {
    "correct": {"common": (39.0, 0, 0, 19.75), "bridge-tied": (39.0, 0, 0, 19.75), "alternate": (39.0, 0, 0, 19.75)},
    "pairs crossed": {"common": (0, 39.5, 19.5, 0), "bridge-tied": (0, 39.5, 19.5, 0), "alternate": (0, 39.5, 19.5, 0)},
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
    "two cores": {"common": (39.0, 0, 0, 0), "bridge-tied": (39.0, 0, 0, 0), "alternate": (39.0, 0, 0, 0)},
}
EDITS = {
    "correct": lambda circuit: circuit,
    "pairs crossed": lambda circuit: edits.pairs_crossed(circuit, 0, "1", "2"),
    "minus wires crossed": lambda circuit: edits.minus_wires_crossed(circuit, 0, "1", "2"),
    "minus of pair 1 open": lambda circuit: edits.conductor_open(circuit, 0, "1-"),
    "two cores": lambda circuit: edits.only_pair(circuit, 0, "1"),
}


@pytest.mark.parametrize("wiring", CROSSED)
@pytest.mark.parametrize("topology", ["common", "bridge-tied", "alternate"])
def test_crossed_wires_as_computed_elsewhere(wiring, topology):
    # 12.53 m of 2.5 mm² class 5 copper are 0.1 Ω a core (7.98 Ω/km, IEC 60228 table 3).
    _, circuit, _ = circuit_and_points(rig_of(biamp(1, first="12.53 m")))
    circuit = EDITS[wiring](circuit)
    found = []
    for driven in ({"1": 40.0, "2": 0.0}, {"1": 0.0, "2": 20.0}):
        volts = netlist.section_volts(circuit, driven, {"1": topology, "2": topology})
        found += [abs(volts[0, 0]), abs(volts[0, 1])]
    assert found == pytest.approx(CROSSED[wiring][topology], abs=0.06)


def test_a_short_reads_the_loop_up_to_it():
    # IEC 60228 table 3: 20 m of 2.5 mm² class 5 are 0.3192 Ω out and back; the touch itself 0.01 Ω.
    _, circuit, places = circuit_and_points(rig_of(biamp(2, first="20 m")))
    far = look(views(edits.shorted(circuit, 0, "1", "far"), dc=True), places[0], "1").ohm
    near = look(views(edits.shorted(circuit, 0, "1", "near"), dc=True), places[0], "1").ohm
    assert far == pytest.approx(0.3192, abs=0.012)
    assert near < 0.011


def test_the_nodal_solver_is_right_on_sparse_rows():
    # Own, worked by hand: a star of 1 Ω arms, one end at 3 V, two ends to ground through 1 Ω more, one end in the air.
    # Middle: (3 − v)/1 = 2 · v/2, so v = 1.5 V; each end to ground stands at 0.75 V; the end in the air at 1.5 V.
    parts = [Branch("middle", f"end{number}", 1.0) for number in range(4)]
    parts += [Branch("end1", GROUND, 1.0), Branch("end2", GROUND, 1.0)]
    volts = solve(parts, [VoltageSource("end0", GROUND, 3.0)])
    assert [volts[f"end{number}"].real for number in range(4)] == pytest.approx([3.0, 0.75, 0.75, 1.5], abs=1e-4)
