"""Sound rigs of models from the demonstration library: no error and no warning, until somebody makes a mistake."""

import datetime as dt

import pytest
from checked_shows import changed_in

from fieldkit.checks.checking import check
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.opening import open_show
from fieldkit.text.folders import GEAR

TODAY = dt.date(2026, 6, 20)
HEAD = "format = 2\n"


@pytest.fixture(autouse=True)
def _no_models_of_the_users_own(monkeypatch, tmp_path):
    monkeypatch.setenv(GEAR, str(tmp_path / "none"))


@pytest.fixture
def loud(tmp_path):
    """Give a function that names the rules which found an error or a warning in a show, with their place."""

    def look(text):
        path = tmp_path / "rig.toml"
        path.write_text(HEAD + text, encoding="utf-8")
        findings = check(evaluate(open_show(path).show), TODAY)
        return sorted((item.rule, item.where.id) for item in findings if item.severity != "note")

    return look


def zone(name, more=""):
    return f'[[zones]]\nid = "{name}"\n{more}\n'


def box(name, model, where, side="", more=""):
    return f'[[boxes]]\nid = "{name}"\nmodel = "{model}"\nzone = "{where}"\nside = "{side}"\n{more}\n'


def unit(name, model, more=""):
    return f'[[rack_units]]\nid = "{name}"\nmodel = "{model}"\n{more}\n'


def run(name, start, *steps):
    path = ", ".join(f'{{ cable = "{cable}", length = "{length}", box = "{at}" }}' for cable, length, at in steps)
    return f'[[runs]]\nid = "{name}"\nfrom = "{start}"\npath = [{path}]\n'


PASSIVE = (
    zone("hall")
    + box("L", "two-way-10-inch", "hall", "left")
    + box("R", "two-way-10-inch", "hall", "right")
    + unit("AMP", "two-channel-plain")
    + run("W1", "AMP.A", ("two-core-2.5", "15 m", "L"))
    + run("W2", "AMP.B", ("two-core-2.5", "15 m", "R"))
)

BIAMP = 'drive = "bi-amp"'
BRIDGED = (
    zone("hall", 'low_end_from = ["subs"]')
    + zone("subs")
    + "".join(
        box(f"T{side}", "two-way-12-inch", "hall", side, BIAMP)
        + box(f"S{side}", "sub-single-18-inch", "subs", side)
        + unit(f"A{side}", "four-channel-hosting", 'bridged = ["3+4"]')
        + run(f"W{side}", f"A{side}.A", ("four-core-2.5", "15 m", f"T{side}"))
        + run(f"V{side}", f"A{side}.D", ("four-core-2.5", "8 m", f"S{side}"))
        for side in ("left", "right")
    )
)

WEDGES = (
    zone("stage", 'use = "wedge"')
    + "".join(box(f"M{mix}", "stage-wedge-12-inch", "stage", f"mix {mix}") for mix in (1, 2))
    + unit("DP", "processor-two-by-six", 'inputs = { 1 = "mix 1", 2 = "mix 2" }')
    + unit("MON", "two-channel-large", 'inputs = { 1 = "DP.1", 2 = "DP.2" }\nattenuators_locked = true')
    + run("W1", "MON.A", ("two-core-2.5", "15 m", "M1"))
    + run("W2", "MON.B", ("two-core-2.5", "15 m", "M2"))
)


@pytest.mark.parametrize("text", [PASSIVE, BRIDGED, WEDGES], ids=["passive", "bridged", "wedges"])
def test_nobody_cries_wolf(loud, text):
    assert loud(text) == []


# Each is one slip of the hand in a sound rig: before, after, and what must be said first and foremost.
SLIPS = {
    "half the boxes left out of the path": (PASSIVE, ', box = "R"', "", ("box-unfed", "R")),
    "a wedge's preset out front": (
        PASSIVE,
        'side = "left"\n',
        'side = "left"\npresets = { full = "wedge" }\n',
        ("preset-does-not-fit", "L"),
    ),
    "lead of 80 m": (PASSIVE, '"15 m", box = "L"', '"80 m", box = "L"', ("cable-loss", "W1/1")),
    "a connector of the bridged pair that is not bridged": (PASSIVE, '"AMP.B"', '"AMP.C"', ("box-unfed", "R")),
    "pair not bridged": (
        BRIDGED,
        'id = "Aleft"\nmodel = "four-channel-hosting"\nbridged = ["3+4"]',
        'id = "Aleft"\nmodel = "four-channel-hosting"',
        ("box-unfed", "Sleft"),
    ),
    "two cores to a bi-amp box": (
        BRIDGED,
        '"four-core-2.5", length = "15 m", box = "Tleft"',
        '"two-core-2.5", length = "15 m", box = "Tleft"',
        ("pins-do-not-meet", "Wleft/2"),
    ),
    "sub on the top's connector": (BRIDGED, '"Aleft.D"', '"Aleft.A"', ("bands-on-one-output", "Aleft.1")),
    "low preset on the high section": (
        BRIDGED,
        'side = "left"\ndrive = "bi-amp"',
        'side = "left"\ndrive = "bi-amp"\npresets = { high = "low-with-sub" }',
        ("high-on-wrong-band", "Tleft"),
    ),
    "no subs after all": (BRIDGED, 'low_end_from = ["subs"]', 'low_end_from = ["hall"]', ("low-end-missing", "hall")),
    "knobs free": (WEDGES, "attenuators_locked = true", "attenuators_locked = false", ("attenuator-unlocked", "MON")),
    "processor forgotten": (WEDGES, '1 = "DP.1", 2 = "DP.2"', '1 = "mix 1", 2 = "mix 2"', ("no-limiter", "MON.1")),
    "low end from a zone of wedges": (
        WEDGES,
        'use = "wedge"',
        'use = "wedge"\nlow_end_from = ["stage"]',
        ("low-end-missing", "stage"),
    ),
}


@pytest.mark.parametrize("name", SLIPS)
def test_one_slip_of_the_hand_is_seen(loud, name):
    sound, old, new, expected = SLIPS[name]
    assert expected in loud(changed_in(sound, old, new))


# ---- a small wish of the show is followed ----------------------------------------------------------------------------


def test_a_third_wedge_on_an_output_asks_and_a_lower_preferred_load_answers(loud):
    more = box("M3", "stage-wedge-12-inch", "stage", "mix 1") + box("M4", "stage-wedge-12-inch", "stage", "mix 1")
    text = WEDGES + more + run("W3", "MON.A", ("two-core-2.5", "5 m", "M3"), ("two-core-2.5", "2 m", "M4"))
    assert ("load-under-preferred", "MON.1") in loud(text)
    assert "load-under-preferred" not in {rule for rule, _ in loud(text + '[show]\npreferred_load = "2 ohm"\n')}


def test_an_eight_channel_amplifier_in_four_bridged_pairs(loud):
    # Common practice, no source: a pair of mid-size boxes and their subs on one amplifier.
    pairs = 'bridged = ["1+2", "3+4", "5+6", "7+8"]'
    text = zone("hall", 'low_end_from = ["subs"]') + zone("subs") + unit("AMP", "eight-channel-hosting", pairs)
    for connector, (name, model, where) in zip(
        "ACEG",
        [
            ("TL", "two-way-12-inch", "hall"),
            ("TR", "two-way-12-inch", "hall"),
            ("SL", "sub-single-18-inch", "subs"),
            ("SR", "sub-single-18-inch", "subs"),
        ],
        strict=True,
    ):
        text += box(name, model, where, name[1]) + run(f"W{name}", f"AMP.{connector}", ("four-core-2.5", "10 m", name))
    assert loud(text) == []


def test_nothing_planned_is_no_mistake(loud):
    boxes = zone("hall") + box("L", "two-way-10-inch", "hall")
    assert loud(boxes) == [("box-unfed", "L")]
    assert loud(zone("hall") + unit("AMP", "two-channel-plain")) == []
