"""One account of what to set: no two numbers under one name, and a literal hand ends where the account says.

The judge reads the written sheets (``account_reader``) and works out the sums from the show file itself.
"""

import json
import random

import pytest
from account_reader import Account, figures
from budget import seeds
from planned_shows import random_show
from rigs import AMP, MODELS, box, rig_of, run, step
from sheet_tools import Reader, files, sample

from fieldkit import samples
from fieldkit.planning.assign.plan import assign
from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.reports.cards import card
from fieldkit.reports.objects import lines_object
from fieldkit.reports.text import lines_text
from fieldkit.rig.signal.account import account_of
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.sheets.material import material_of
from fieldkit.text.style import Style


def read_all(material):
    """Write settings and lid, and read every figure of an output in them, in JSON and on its card."""
    found = Account()
    written = files(material, ["settings", "lid"])
    found.settings_page(written["settings.txt"])
    found.table("presets.csv", written["presets.csv"], "host")
    for name in ("limiters.csv", "peak-limiters.csv", "gains.csv", "lid.csv"):
        found.table(name, written[name], "output")
    said = json.loads(json.dumps(lines_object(material.rig)))
    found.lines("\n".join(lines_text(material.rig, Style())))
    hosts = {}
    for output in said["outputs"]:
        if output["account"] is not None:
            hosts[output["id"]] = output["account"]["host"]
            found.account(output["id"], output["account"])
            found.card(output["id"], card(material.rig, (), "output", output["id"], Style()))
    return found, hosts, said


def wanted_of(show, output):
    """Add up gain, delay of box and preset, and polarity of an output's first box, from the show file alone."""
    models = {model.id: model for model in show.loudspeakers}
    boxes = {item.id: item for item in show.boxes}
    line = next(line for line in output["lines"] if line["boxes"])
    its = boxes[line["boxes"][0]["box"]]
    zone = next(zone for zone in show.zones if zone.id == its.zone)
    name = output["account"]["preset"]
    preset = next((item for item in models[its.model].presets if item.id == name), None) if its.model else None
    gain = sum(thing.value for thing in (preset and preset.gain, zone.level, its.level) if thing)
    least_ms = 1e3 * sum(thing.value for thing in (preset and preset.delay, its.delay) if thing)
    inverted = (preset is not None and preset.polarity == "inverted") != (its.polarity == "inverted")
    return gain, least_ms, inverted


def plays_as_another(output, gain, found, said):
    """Tell whether what a hand has set makes an output as loud at its posts as another one."""
    others = [other for other in said["outputs"] if other["account"] is not None and other["id"] != output["id"]]
    levels = [found.done[other["account"]["host"]][0] + other["gain_db"] for other in others]
    return any(level == pytest.approx(gain + output["gain_db"], abs=0.11) for level in levels)


def judge(material):
    found, hosts, said = read_all(material)
    assert list(found.clashes(hosts)) == []
    for output in said["outputs"]:
        account = output["account"]
        if account is None:
            continue
        output["lines"] = [line for line in said["lines"] if line["output"] == output["id"]]
        gain, delay, inverted = found.done[account["host"]]
        back = {entry["quantity"]: entry["value"] for entry in account["reads_back"]}
        assert gain == pytest.approx(back["gain in all"], abs=0.11)
        assert delay == pytest.approx(back["delay in all"], abs=0.02)
        assert inverted == (back["polarity in all"] == "inverted")
        if not account["disagreements"]:
            wanted = wanted_of(material.show, output)
            if any("trim to play as" in entry["from"] for entry in account["you_set"]):
                assert plays_as_another(output, gain, found, said)
                continue
            assert (gain, inverted) == (pytest.approx(wanted[0], abs=0.11), wanted[2])
            assert delay >= wanted[1] - 0.02
    return found


@pytest.mark.parametrize("name", samples.names())
def test_no_two_numbers_under_one_name_in_the_samples(name):
    found = judge(sample(name))
    assert len(found.read) > 40 or name == "mistakes"


@pytest.mark.parametrize("seed", seeds(2))
def test_no_two_numbers_under_one_name_in_random_shows(seed):
    rng = random.Random(seed)
    show = assign(random_show(rng)).show
    judge(material_of(show, None))


def test_the_page_in_a_browser_says_what_the_text_says():
    written = files(sample("practice"), ["settings"])
    told = " ".join(" ".join(Reader(written["sheets.html"]).texts).split())
    lines = [line.strip(" -*") for line in written["settings.txt"].splitlines() if "reads back: gain" in line]
    assert lines
    assert all(line in told for line in lines)


# own, worked by hand: the preset of practice's high section has −8 dB and 0.2 ms; 28.3 V are +31.25 dBu, less 32 dB
# −0.75 dBu behind the preset, +7.25 dBu at the socket before it.
def test_a_literal_hand_does_not_set_the_gain_of_a_preset_twice():
    found = judge(sample("practice"))
    assert found.done["AMP-1.2"] == (-8.0, 0.2, False)
    written = files(sample("practice"), ["settings"])["settings.txt"]
    orders = [line for line in written.splitlines() if line.strip().startswith("- set") and "gain on top" in line]
    assert not [line for line in orders if "-8.0" in line]
    assert {round(value, 1) for value, _ in found.read["AMP-1.2", "slow limiter at the input socket", "dBu"]} == {7.2}
    assert {round(value, 1) for value, _ in found.read["AMP-1.2", "slow limiter in the host", "dBu"]} == {-0.8}


def test_the_reader_finds_what_it_is_there_for():
    """The page as it once was: an order beside a preset that holds the same, and two levels under one name."""
    old = Account()
    old.settings_page(
        "* A.1: B1 (high section)\n    - preset high brings: gain -5.0 dB\n    - set gain on top -5.0 dB\n"
        "    - reads back: gain in all -5.0 dB\n    - A.1 reads back: slow limiter at the input socket +7.2\n      dBu\n"
    )
    old.table("limiters.csv", "output,slow limiter at the input socket (dBu)\nA.1,-0.8\n", "output")
    assert old.done["A.1"][0] == -10.0
    assert [clash[:3] for clash in old.clashes({"A.1": "A.1"})] == [("A.1", "slow limiter at the input socket", "dBu")]


# own, worked by hand: 80 W through 16 Ω are 35.8 V, as a sine at 26 dB of gain +7.3 dBu; A4.2 has its knob fully up, 6 dB
# more, so +1.3 dBu; its own clip is 65.2 V peak, 46.1 V as a sine or +35.5 dBu, so +3.5 dBu.
def test_a_step_of_a_fail_over_gives_each_limiter_its_own_level_and_says_what_the_account_says():
    plan = fail_over(sample("school_musical").show, ["A4.1"])
    [step] = [step for move in plan.moves for step in move.steps if step.do == "load" and step.at == "DP.3"]
    orders = step.says.split("; ")[1]
    told = list(figures(orders.removeprefix("set ")))
    assert [item for item in told if item[0].endswith("limiter")] == [
        ("slow limiter", 1.3, "dBu"), ("slow limiter", -18.7, "dBFS"),
        ("fast limiter", 3.5, "dBu"), ("fast limiter", -16.5, "dBFS"),
    ]  # fmt: skip
    assert " V " not in step.says
    said = lines_object(evaluate(plan.show))
    [account] = [output["account"] for output in said["outputs"] if output["id"] == "A4.2"]
    known = {
        (entry["quantity"], item["unit"]): item["value"]
        for entry in account["you_set"]
        for item in (entry, *entry["also"])
    }
    assert all(
        value == pytest.approx(known[label, unit], abs=0.5 if "samples" in unit else 0.051)
        for label, value, unit in told
    )


# own, worked by hand: the quad clips at 63.2 V, 89.4 V peak; √(350·8) = 52.9 V is in its preset, so no order for it.
def test_an_amplifier_is_set_in_volts_and_what_its_preset_holds_is_no_order():
    account = account_of(rig_of(AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1"))), "A.1")
    assert account.number("preset slow limiter", "V rms") == pytest.approx(52.92, abs=0.005)
    assert account.entry("slow limiter") is None
    assert account.entry("fast limiter").unit == "V peak"
    assert account.number("fast limiter", "V peak") == pytest.approx(89.4, abs=0.05)


# own, worked by hand: of 350 W that no preset stands behind, 3 dB are kept: 37.5 V; of its own 350 W none: 52.9 V.
def test_a_threshold_says_whether_it_keeps_a_margin_and_why():
    text = AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1"))
    own = account_of(rig_of(text), "A.1").entry("preset slow limiter")
    assert own.basis == "the preset's own 350 W through 8 Ω, no margin: it was made for this box"
    plain = account_of(rig_of(text, MODELS.replace(', limiter = "350 W"', "")), "A.1").entry("slow limiter")
    assert plain.value == pytest.approx(37.46, abs=0.005)
    assert plain.basis.startswith("the rating, 350 W through 8 Ω, less 3 dB: no preset stands behind it")


def test_a_filter_says_its_type_and_slope_or_that_the_model_does_not():
    text = AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1"))
    filters = 'high_pass = "80 Hz", high_pass_type = "linkwitz-riley", high_pass_slope = 24, low_pass = "9 kHz", '
    account = account_of(
        rig_of(text, MODELS.replace('uses = ["full range"],', f'uses = ["full range"], {filters}', 1)), "A.1"
    )
    assert account.entry("preset high-pass").basis == "linkwitz-riley, 24 dB per octave"
    assert account.entry("preset low-pass").basis == "type and slope not in the model"


def test_a_delay_that_would_be_a_guess_is_not_set_and_said():
    zone = '[[zones]]\nid = "{}"\n'
    text = AMP + box("B1") + box("B2", "back") + run("W", "A.A", step("two", "0 m", "B1"))
    text += run("V", "A.B", step("two", "0 m", "B2"))
    text += zone.format("back") + 'timed_to = "mains"\nreference_distance = "20 m"\n'
    for own, notes in (("", 1), ('own_distance = "2 m"\n', 0)):
        account = account_of(rig_of(text + own), "A.3")
        assert sum("no delay is set for zone back" in note for note in account.notes) == notes
        assert (account.entry("delay on top") is None) == bool(notes)
