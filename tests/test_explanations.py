"""An explanation is the same solver run again: the same numbers, with a tree down to what was given."""

import pytest
from rigs import AMP, PLAIN, RACK, box, rig_of, run, step

from fieldkit.formulas.figures import Figure
from fieldkit.reports.objects import lines_object
from fieldkit.reports.text import lines_text
from fieldkit.rig.signal.delays import zone_delays
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.rig.solve.explanation import delay_figures, line_figures, output_figures, traced_output
from fieldkit.samples import folder
from fieldkit.show.keep.storage import load
from fieldkit.text.style import Style

UNKNOWN = '[[boxes]]\nid = "U"\nzone = "mains"\nunknown = { impedance = "8 ohm", continuous = "250 W" }\n'
RIGS = {
    "passive": AMP + box("B1") + run("W", "A.A", step("two", "20 m", "B1")),
    "bi-amp": AMP
    + box("B1", more='drive = "bi-amp"')
    + box("B2", more='drive = "bi-amp"')
    + run("W", "A.A", step("four", "20 m", "B1"), step("four", "66 in", "B2")),
    "gauge": AMP + box("B1") + run("W", "A.A", step("gauge-twelve", "50 ft", "B1")),
    "bridged by its table": AMP
    + 'bridged = ["3+4"]\n'
    + box("S", "subs", "sub")
    + run("W", "A.B", step("two", "5 m", "S")),
    "bridged without one": PLAIN
    + 'bridged = ["1+2"]\n'
    + box("S", "subs", "sub")
    + run("W", "P.A", step("two", "5 m", "S"), more='feeds = { 1 = "P.1+2" }'),
    "paralleled": AMP + 'paralleled = ["1+2"]\n' + box("B1") + run("W", "A.A", step("two", "5 m", "B1")),
    "shared supply": PLAIN
    + box("B1")
    + box("B2")
    + run("W1", "P.A", step("two", "1 m", "B1"))
    + run("W2", "P.B", step("two", "1 m", "B2")),
    "rack as built": RACK + box("B1") + run("W", "SR.P1", step("two", "5 m", "B1")),
    "unknown box": AMP + UNKNOWN + run("W", "A.A", step("two", "5 m", "U")),
    "attenuator": AMP + 'attenuators = { 1 = "-6 dB" }\n' + box("B1") + run("W", "A.A", step("two", "5 m", "B1")),
    "no cable": AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1")),
    "two leads": AMP
    + box("B1")
    + box("B2")
    + run("W1", "A.A", step("two", "5 m", "B1"))
    + run("W2", "A.A", step("two", "9 m", "B2")),
}


def figures(rig):
    for output in rig.outputs:
        if output.lines:
            shown = traced_output(rig, output)
            plain = dict(_numbers(output))
            for name, figure in output_figures(shown):
                yield figure, plain[name]
            for solved, line in zip(output.lines, shown.lines, strict=True):
                for box_id, name, figure in line_figures(line):
                    yield figure, next(getattr(item, name) for item in solved.boxes if item.load.box.id == box_id)


def _numbers(output):
    yield "load_ohm", output.load_ohm
    yield "can_give_v", output.can_give_v
    yield "clip_v", output.clip_v
    for name in ("thermal_v", "peak_v", "thermal_dbu", "input_dbu", "input_dbfs"):
        yield name, getattr(output.limiter, name)


@pytest.mark.parametrize("text", RIGS.values(), ids=RIGS)
def test_the_numbers_are_those_of_the_plain_run(text):
    checked = 0
    for figure, plain in figures(rig_of(text)):
        assert figure.value == pytest.approx(plain, rel=1e-12)
        checked += 1
    assert checked >= 9


@pytest.mark.parametrize("text", RIGS.values(), ids=RIGS)
def test_every_leaf_says_where_it_stands(text):
    for figure, _ in figures(rig_of(text)):
        for _, _, item in figure.walk():
            assert isinstance(item, Figure)
            assert item.label
            assert item.source
            assert item.source != "a constant"
            if item.inputs:
                assert item.formula
                assert item.assumed == any(below.assumed for _, below in item.inputs)


def test_assumed_goes_wherever_the_figure_goes():
    for figure, _ in figures(rig_of(RIGS["unknown box"])):
        rests_on_the_box = any("U:" in item.label for _, _, item in figure.walk())
        assert figure.assumed == rests_on_the_box
    assert not any(figure.assumed for figure, _ in figures(rig_of(RIGS["passive"])))


def leaves(figure):
    return {(item.label, item.source) for _, _, item in figure.walk() if not item.inputs}


def test_what_was_typed_is_named():
    (figure,) = [
        f for f, _ in figures(rig_of(RIGS["bi-amp"])) if f.label == "B2: volts at full output" and f.value > 60
    ]
    found = leaves(figure)
    assert ("length", "run W, step 2 '66 in'") in found
    assert ("cross-section", "model four") in found
    assert ("rated power", "model quad, powers") in found


@pytest.mark.parametrize("text", RIGS.values(), ids=RIGS)
def test_they_can_be_printed(text):
    rig = rig_of(text)
    lines = list(lines_text(rig, Style(), why=True))
    assert max(map(len, lines)) <= 80
    assert any("IEC 60228" in line or "NFPA 70" in line or "9 table 8" in line for line in lines)
    assert lines_object(rig, why=True)["outputs"]
    for line in lines_text(rig, Style(ascii_only=True), why=True):
        line.encode("ascii")


def test_a_shared_supply_says_so():
    (figure, *_rest) = [f for f, _ in figures(rig_of(RIGS["shared supply"])) if f.label == "what the output can give"]
    assert any("supply_limit" in source for _, source in leaves(figure))


def test_a_delay_explains_itself_down_to_the_distances():
    (figure,) = delay_figures(evaluate(load(folder() / "school_musical.toml").show), "fills")
    # (6.2 m - 2.1 m) / (331.3 · sqrt(1 + 21/273.15)) m/s: 11.93 ms, worked by hand; c from the square-root formula.
    assert figure.value == pytest.approx(4.1 / 343.8, rel=1e-3)
    told = {(item.label, item.value, item.source) for _, _, item in figure.walk()}
    assert ("from the reference", 6.2, "fills, reference_distance") in told
    assert ("from the zone itself", 2.1, "fills, own_distance") in told
    assert ("air temperature", 21.0, "[show], temperature '21 °C'") in told


def test_traced_delays_are_the_delays():
    for name in ("school_musical", "open_air"):
        rig = evaluate(load(folder() / f"{name}.toml").show)
        assert [float(item.delay_s) for item in zone_delays(rig, trace=True)] == [
            item.delay_s for item in zone_delays(rig)
        ]
