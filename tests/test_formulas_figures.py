"""Numbers that explain themselves: a traced run gives the same number and a tree down to what was given."""

import pytest

from fieldkit.formulas import cables, conductors, loads, outputs
from fieldkit.formulas.declaration import specification
from fieldkit.formulas.figures import Traced, direct, explain, given, traced


def _loss(apply, length_m, area_mm2, load_ohm, count):
    per_metre = apply(conductors.class_5_resistance, area_mm2)
    loop = apply(cables.loop_resistance, length_m, per_metre)
    boxes = apply(loads.parallel, *[load_ohm] * count)
    return apply(cables.insertion_loss, loop, boxes)


def _typed():
    return (
        given(30.0, "length", "m", "cable C1"),
        given(2.5, "area", "mm²", "cable C1"),
        given(8.0, "load", "ohm", "model of ML1", assumed=True),
    )


def test_traced_gives_the_number_of_a_plain_call():
    assert _loss(traced, *_typed(), 2) == _loss(direct, 30.0, 2.5, 8.0, 2)
    # Own, worked by hand: ln(1 + 0.4788/4) = 0.11306; times 20/ln 10 = 8.68589.
    assert _loss(traced, *_typed(), 2) == pytest.approx(0.9820, abs=0.00005)


def test_tree_ends_in_what_was_given_and_names_its_sources():
    figure = explain(_loss(traced, *_typed(), 2), "loss of C1", "dB")
    assert figure.label == "loss of C1"
    leaves = {item.source for _, _, item in figure.walk() if not item.inputs}
    assert leaves == {"cable C1", "model of ML1"}
    inner = [item for _, _, item in figure.walk() if item.inputs]
    assert "IEC 60228:2004 table 3" in {item.source for item in inner}
    assert all(item.formula and item.source for item in inner)


def test_assumed_travels_to_the_top():
    figure = explain(_loss(traced, *_typed(), 2), "loss", "dB")
    assert figure.assumed
    assert not dict(figure.inputs)["resistance"].assumed


def test_ratings_keep_their_own_units():
    volts = traced(outputs.output_voltage, 6.0, 10.0, 250.0, 4.0, 400.0)
    assert isinstance(volts, Traced)
    units = [figure.unit for _, figure in volts.figure.inputs]
    assert units == ["ohm", "ohm", "W", "ohm", "W"]
    assert volts.figure.unit == specification(outputs.output_voltage).unit


def test_arguments_by_name_are_kept():
    loss = traced(cables.insertion_loss, resistance_ohm=0.4788, load_ohm=given(8.0, "load", "ohm", "box"))
    names = [name for name, _ in loss.figure.inputs]
    assert names == ["resistance", "load"]
    assert loss.figure.inputs[1][1].source == "box"
