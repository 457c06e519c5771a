"""Boxes alike in one zone play alike: what the wiring brings them, the trim that evens it out, and where it is set."""

import pytest
from account_reader import Account
from checked_shows import changed_in, of_rule, only
from rigs import AMP, MODELS, box, rig_of, run, show_of, step
from sheet_tools import files

from fieldkit.reports.text import lines_text
from fieldkit.rig.signal.account import account_of
from fieldkit.sheets.material import material_of
from fieldkit.text.style import Style

EIGHT = MODELS.replace('"4 ohm", continuous = "500 W"', '"8 ohm", continuous = "500 W"')
HOSTED = EIGHT.replace('presets = ["top"], full', 'presets = ["top", "sub"], full')
SUBS = AMP + 'bridged = ["3+4"]\n' + box("S1", "subs", "sub") + box("S2", "subs", "sub")
SUBS += run("W1", "A.A", step("two", "5 m", "S1")) + run("W2", "A.C", step("two", "5 m", "S2"))
SINGLE = changed_in(changed_in(SUBS, 'bridged = ["3+4"]\n', ""), "A.C", "A.B")


# 20·log10 2 = 6.02 dB: the two halves of a bridged pair, by definition.
def test_a_bridged_sub_beside_a_single_one_is_warned_of_and_trimmed():
    item = only("siblings-differ", SUBS, HOSTED)
    assert (item.severity, item.where.kind, item.where.id) == ("warning", "zone", "subs")
    assert "S2 plays 6.0 dB louder than S1 (bridged A.3+4 at 38.0 dB against A.1 at 32.0 dB)" in item.says
    assert item.numbers["difference_db"] == pytest.approx(6.0206, abs=1e-4)
    assert "set -6.0 dB on A.3+4, as its account says" in item.fix
    assert of_rule("siblings-differ", SINGLE, HOSTED) == []


def test_the_literal_hand_makes_them_play_alike():
    show = show_of(SUBS, HOSTED)
    found = Account()
    found.settings_page(files(material_of(show, None), ["settings"])["settings.txt"])
    rig = rig_of(SUBS, HOSTED)
    at_posts = {name: found.done[name][0] + rig.output(name).gain_db for name in ("A.1", "A.3+4")}
    assert at_posts["A.1"] == pytest.approx(at_posts["A.3+4"], abs=0.05)  # −6.0 is printed, 6.02 it is
    assert account_of(rig, "A.1").entry("gain on top") is None


@pytest.mark.parametrize(("level", "trips"), [("-6 dB", False), ("-5.6 dB", False), ("-5.4 dB", True), ("-2 dB", True)])
def test_a_level_typed_for_the_box_may_be_the_trim_already(level, trips):
    text = SUBS.replace('id = "S2"\n', f'id = "S2"\nlevel = "{level}"\n')
    assert bool(of_rule("siblings-differ", text, HOSTED)) == trips
    on_top = account_of(rig_of(text, HOSTED), "A.3+4").number("gain on top", "dB")
    assert on_top == pytest.approx(float(level.split()[0]) - 6.02 * trips, abs=0.005)


def test_a_level_typed_for_one_of_two_alike_is_meant():
    text = SINGLE.replace('id = "S2"\n', 'id = "S2"\nlevel = "-4 dB"\n')
    assert of_rule("siblings-differ", text, HOSTED) == []


def test_without_a_place_the_warning_says_so_and_with_a_knob_it_names_it():
    bare = EIGHT.replace('hosts = { presets = ["top"], full_scale = "21 dBu" }\n', "")
    assert "a trim has no place here" in only("siblings-differ", SUBS, bare).fix
    knobs = bare.replace("channels = 4\n", "channels = 4\nattenuators = true\n")
    assert "turn A.3+4 down by 6.0 dB at its knob" in only("siblings-differ", SUBS, knobs).fix
    account = account_of(rig_of(SUBS, knobs), "A.3+4")
    assert account.entry("gain on top") is None
    assert "! A.3+4 needs -6.0 dB for S2 to play as S1, at its knob, which moves the levels here" in account.notes
    assert (
        of_rule(
            "siblings-differ", SUBS.replace("bridged", 'attenuators = { 3 = "-6 dB", 4 = "-6 dB" }\nbridged', 1), knobs
        )
        == []
    )


def test_left_against_right_counts_and_another_zone_does_not():
    sides = SUBS.replace('id = "S1"\n', 'id = "S1"\nside = "left"\n').replace(
        'id = "S2"\n', 'id = "S2"\nside = "right"\n'
    )
    assert len(of_rule("siblings-differ", sides, HOSTED)) == 1
    other = SUBS.replace('id = "S2"\nmodel = "sub"\nzone = "subs"', 'id = "S2"\nmodel = "sub"\nzone = "mon"')
    assert other != SUBS
    assert of_rule("siblings-differ", other, HOSTED) == []


def test_the_trim_stands_among_the_lines_before_the_levels_that_hold_with_it():
    text = " ".join(" ".join(lines_text(rig_of(SUBS, HOSTED), Style())).split())
    [_, bridged] = text.split("A.3+4  bridged".replace("  ", " "))
    assert bridged.index("set gain on top -6.0 dB in A.3+4") < bridged.index("slow limiter")
    assert "gain on top" not in " ".join(lines_text(rig_of(SINGLE, HOSTED), Style()))
