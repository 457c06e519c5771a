"""Supplies in the file: what they name, what is refused, what follows a new name or a removal."""

import tomllib

import pytest
from rigs import box, show_of
from shows import FERRY, with_change
from test_rig_supplies import ROUND, supply, unit

from fieldkit.show.decoding import decode
from fieldkit.show.errors import DocumentError
from fieldkit.show.keep.storage import load
from fieldkit.show.references import problems
from fieldkit.show.removal import removed
from fieldkit.show.usage import renamed, users
from fieldkit.show.writing import canonical

TREE = supply("G", "phases = 3") + supply("X", 'phase = 1\nfed_from = "G"') + unit("A", "X")
TREE += box("P", model="powered", more='supply = "X"')


def says(text):
    return [(thing, message) for _, thing, message in problems(decode(tomllib.loads(ROUND + text)))]


@pytest.mark.parametrize(
    ("text", "thing", "message"),
    [
        (TREE.replace('fed_from = "G"', 'fed_from = "H"'), "X", "fed_from: no supply 'H'; expected one of G, X"),
        (TREE.replace("phases = 3", 'phases = 3\nfed_from = "X"'), "G", "fed_from goes in a circle: G → X → G"),
        (TREE.replace("phases = 3", 'fed_from = "G"'), "G", "fed_from goes in a circle: G → G"),
        (TREE + box("Q", model="powered", more='supply = "Y"'), "Q", "no supply 'Y'; expected one of G, X"),
        (supply("X", volts="0 V"), "X", "volts: expected at least 1 V, got '0 V'"),
        (supply("X", 'generator = { prime = "0 VA" }'), "X", "generator.prime: expected at least 1 VA, got '0 VA'"),
        (supply("X", rating="0 A"), "X", "rating: expected at least 10 mA, got '0 A'"),
    ],
)
def test_what_leads_nowhere_is_refused(text, thing, message):
    assert says(text) == [(thing, message)]


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("phase", "4", "X1: phase: expected one of 1, 2, 3, got 4"),
        ("phases", "2", "X1: phases: expected one of 1, 3, got 2"),
        ("network", '"town"', "X1: network: expected one of private, public, got 'town'"),
        (
            "generator",
            '{ prime = "60 kW" }',
            "X1: generator.prime: expected an apparent power (VA, kVA), got '60 kW', which is a power",
        ),
        (
            "residual_current",
            '"30 mV"',
            "X1: residual_current: expected a current (A, mA), got '30 mV', which is a voltage",
        ),
        ("breaker", '"Z"', "X1: breaker: expected one of B, C, D, got 'Z'"),
    ],
)
def test_a_wrong_value_says_what_was_expected_and_on_which_line(key, value, message, tmp_path):
    path = tmp_path / "show.toml"
    new = f"{key} = {value}" if key == "phase" else f"phase = 1\n{key} = {value}"
    path.write_text(with_change("phase = 1", new), encoding="utf-8")
    with pytest.raises(DocumentError) as error:
        load(path)
    assert str(error.value).partition("show.toml:")[2].partition(": ")[2] == message


def test_a_wrong_duty_says_so(tmp_path):
    path = tmp_path / "show.toml"
    path.write_text(with_change("priority = 1", 'priority = 1\nduty = "9/8"'), encoding="utf-8")
    with pytest.raises(DocumentError, match=r"mains: duty: expected a duty such as 'idle', '1/8'.*got '9/8'"):
        load(path)
    path.write_text(with_change("priority = 1", "priority = 1\nduty = 0.125"), encoding="utf-8")
    with pytest.raises(DocumentError, match=r"mains: duty: expected a duty .* in quotes, got 0\.125"):
        load(path)


def test_a_new_name_is_followed():
    show = show_of(TREE, ROUND)
    assert users(show, "supplies", "X") == (("boxes", "P"), ("rack_units", "A"))
    assert users(show, "supplies", "G") == (("supplies", "X"),)
    after = renamed(renamed(show, "supplies", "G", "GEN"), "supplies", "X", "Y")
    assert list(problems(after)) == []
    assert (after.supplies[1].fed_from, after.boxes[0].supply, after.rack_units[0].supply) == ("GEN", "Y", "Y")


def test_removing_says_what_is_left_without():
    show = show_of(TREE, ROUND)
    assert removed(show, "supplies", "X").consequences == ("P is on no supply", "A is on no supply")
    assert removed(show, "supplies", "G").consequences == ("X is fed from nothing",)
    assert list(problems(removed(show, "supplies", "G").show)) == []


def test_all_that_a_supply_may_say_is_written_and_read_back():
    text = TREE + supply(
        "Z",
        'phase = 2\nacross = "phases"\nfed_from = "G"\nnetwork = "private"\nbreaker = "C"\nresidual_current = "30 mA"\n'
        'residual_device = "RCD-1"\nother_load = "2 A"\ngenerator = { prime = "60 kVA", power_factor = "80 %" }\n'
        'feeder = { length = "82 ft", area = "10 AWG" }',
        volts="208 V",
    )
    show = show_of(text, ROUND)
    written = canonical(show)
    assert decode(tomllib.loads(written)) == show
    assert 'length = "82 ft"' in written


def test_what_stands_at_its_default_is_not_written():
    show = decode(tomllib.loads(FERRY))
    block = canonical(show).partition("[[supplies]]")[2].partition("[[")[0]
    assert (
        block.split("\n")[1:-1]
        == [
            'id = "X1"',
            'volts = "230 V"',
            'rating = "16 A"',
            "phase = 1",
            'feeder = { length = "25 m", area = "2.5 mm²" }',
            "",
        ]
        or "across" not in block
    )
