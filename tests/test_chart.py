"""The chart against a judge of its own, against ``check`` of the show that a cell stands for, and against handbooks."""

from functools import cache

import msgspec
import pytest
from budget import tries
from chart_checker import Judge, pairs_of
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from fieldkit.checks.checking import check
from fieldkit.commands.cli import run
from fieldkit.gear import library
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.model_file import parse
from fieldkit.gear.processor import Processor
from fieldkit.gear.wording import read_value, to_plain
from fieldkit.planning.chart.cells import chart
from fieldkit.planning.chart.question import Library, Terms, library_of
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.decoding import decode

DEMONSTRATION = library_of([entry.model for entry in library.every() if not entry.own])
RULES = {
    "minimum-load": "load-under-minimum",
    "clean-power": "output-too-weak",
    "supply": "output-too-weak",
    "current": "current-too-high",
}


def model(kind, text):
    return parse(f"[{kind}]\nid = '{kind}'\n{text}")


def cells_of(amplifier, box, terms=None, processors=()):
    made = Library(amplifiers=(amplifier,), loudspeakers=(box,), processors=processors)
    return {(cell.mode, cell.candidate.drive): cell for cell in chart(made, terms or Terms())}


def show_of(cell, counts, preferred="0.01 ohm"):
    """Write the show that a cell stands for: so many boxes on each place, by hand and not by the product."""
    box, wide = cell.candidate, 1 if cell.mode == "single" else 2
    pairs = [pair for pair, _ in box.pairs]
    places = [
        [range(1 + wide * (k * len(pairs) + i), 1 + wide * (k * len(pairs) + i + 1)) for i in range(len(pairs))]
        for k in range(len(counts))
    ]
    amplifier = to_plain(cell.amplifier) | {"connectors": {}, "connectors_bridged": {}}
    unit = {
        "id": "A",
        "model": cell.amplifier.id,
        "inputs": {str(n): "L" for n in range(1, cell.amplifier.channels + 1)},
    }
    named = [["+".join(map(str, channels)) for channels in place] for place in places]
    if cell.mode != "single":
        unit[cell.mode] = [name for place in named for name in place]
    units, processors = [unit], []
    if cell.processor is not None:
        processors = [to_plain(cell.processor)]
        units.append({"id": "DP", "model": cell.processor.id, "inputs": {"1": "L"}})
        for place in places:
            unit["inputs"] |= {str(n): f"DP.{i}" for i, channels in enumerate(place, 1) for n in channels}
    boxes, runs = [], []
    for k, count in enumerate(counts):
        labels = [f"B{k}-{n}" for n in range(count)]
        boxes += [{"id": name, "model": box.speaker.id, "zone": "Z", "drive": box.drive} for name in labels]
        runs.append(
            {
                "id": f"W{k}",
                "from": f"A.P{k}",
                "feeds": {pair: f"A.{name}" for pair, name in zip(pairs, named[k], strict=True)},
                "path": [{"cable": "lead", "length": "0 m", "box": name} for name in labels],
            }
        )
    zone = {
        "id": "Z",
        "use": "wedge" if "wedge" in box.use else "front",
        "low_end_from": ["Z"] if "sub" in box.use else [],
    }
    return decode(
        {
            "format": 1,
            "show": {"preferred_load": preferred},
            "loudspeakers": [to_plain(box.speaker)],
            "amplifiers": [amplifier],
            "processors": processors,
            "cables": [{"id": "lead", "cores": 16, "area": "2.5 mm²"}],
            "zones": [zone],
            "boxes": boxes,
            "rack_units": units,
            "runs": runs,
        }
    )


def findings_at(cell, counts, **more):
    return check(evaluate(show_of(cell, counts, **more)))


def rules_against(cell, counts):
    """Name the rules about too many boxes that have a word, and errors of any kind."""
    found = findings_at(cell, counts)
    return {item.rule for item in found if item.rule in RULES.values() or item.severity == "error"}


def is_for_all(cell):
    """Tell whether what sets the number is said of all outputs at the same time, and not of one."""
    return cell.per_amplifier < cell.per_output * cell.places


def agrees_with_check(cell):
    """See that at the number nothing is said, at one more the rule that is named, and the same of the preference."""
    if cell.per_output:
        assert rules_against(cell, [cell.per_output]) == set()
    if cell.outputs and cell.per_amplifier:
        assert rules_against(cell, [n for n in cell.outputs if n]) == set()
    if cell.set_by == "supply" and is_for_all(cell):
        assert "output-too-weak" in rules_against(cell, [cell.per_output] * cell.places)
    elif cell.set_by in RULES:
        assert RULES[cell.set_by] in rules_against(cell, [cell.per_output + 1])
    elif cell.set_by == "preset":
        assert cell.refusal.rule in rules_against(cell, [cell.per_output + 1])
    for count, said in ((cell.preferred_per_output, False), (cell.preferred_per_output + 1, True)):
        if 0 < count <= cell.per_output:
            rules = {item.rule for item in findings_at(cell, [count], preferred="4 ohm")}
            assert ("load-under-preferred" in rules) == said, (count, rules)


def agrees_with_judge(cell, processors):
    box = cell.candidate
    judge = Judge(cell.amplifier, cell.mode, box.speaker, box.drive, box.use, processors)
    assert cell.hosting == judge.preset()
    if cell.set_by == "preset":
        return
    assert cell.per_output == judge.most_on_output()
    assert cell.per_amplifier == judge.most_on_amplifier()
    assert cell.preferred_per_output == judge.most_preferred(4.0)
    if cell.set_by != "outputs":
        more = [cell.per_output] * cell.places if is_for_all(cell) else [cell.per_output + 1]
        assert cell.set_by in judge.against(more)
    at = max(1, cell.per_output)
    assert cell.worst.headroom_db == pytest.approx(judge.headroom_db(at), abs=1e-6)
    for section, its in zip(cell.sections, pairs_of(box.speaker, box.drive), strict=True):
        if len(its) == 1:
            assert section.clean_w == pytest.approx(min(judge.clean_w(its, at), section.clean_w * 2), rel=1e-6) or (
                cell.amplifier.supply_limit is not None
            )
            limited = judge.limited_w(its, at)
            assert section.limited_w == (None if limited is None else pytest.approx(limited, rel=1e-6))


@cache
def every_cell():
    return chart(DEMONSTRATION, Terms())


@pytest.mark.parametrize("amplifier", [model.id for model in DEMONSTRATION.amplifiers])
def test_the_demonstration_library_cell_by_cell(amplifier):
    cells = [cell for cell in every_cell() if cell.amplifier.id == amplifier]
    assert cells
    for cell in cells:
        agrees_with_judge(cell, DEMONSTRATION.processors)
        agrees_with_check(cell)


OHMS = st.sampled_from([2.0, 2.7, 4.0, 5.4, 6.0, 8.0, 12.0, 16.0])


@st.composite
def amplifiers(draw):
    loads = sorted(draw(st.sets(OHMS, min_size=1, max_size=3)), reverse=True)
    watts = draw(st.floats(60.0, 1500.0))
    rows = []
    for load in loads:
        rows.append({"load": f"{load} ohm", "power": f"{watts:.1f} W"})
        watts *= draw(st.floats(1.1, 1.95))
    mode = draw(st.sampled_from(["", "rated", "said", "paralleled"]))
    more = {}
    if mode == "rated":
        rows.append({"load": f"{2 * loads[-1]} ohm", "power": f"{watts * 1.7:.1f} W", "bridged": True})
    elif mode:
        more["bridgeable" if mode == "said" else "parallelable"] = True
    if draw(st.booleans()):
        more["connector_current"] = f"{draw(st.floats(3.0, 40.0)):.2f} A"
    if draw(st.booleans()):
        more["supply_limit"] = f"{draw(st.floats(100.0, 5000.0)):.1f} W"
    hosts = draw(st.sampled_from([None, ("box",), ("any",), ("other",)]))
    if hosts is not None:
        more["hosts"] = {"presets": hosts}
        slots = draw(st.sampled_from([None, 2, 3]))
        more["hosts"] |= {"slots": slots} if slots else {}
    channels = draw(st.sampled_from([1, 2, 3, 4, 6]))
    return convert(Amplifier, {"id": "amp", "channels": channels, "powers": rows, "gain": "32 dB"} | more)


def convert(kind, values):
    return msgspec.convert(values, kind, dec_hook=read_value)


ANY = convert(Processor, {"id": "any", "inputs": 2, "outputs": 8, "hosts": {"presets": ["any"]}})


@st.composite
def boxes(draw):
    drive, names = draw(
        st.sampled_from(
            [
                ("passive", ("full",)),
                ("passive", ("sub",)),
                ("bi-amp", ("low", "high")),
                ("bi-amp", ("low", "mid", "high")),
            ]
        )
    )
    sections = []
    for pair, name in enumerate(names, 1):
        ohm = draw(OHMS)
        row = {"drive": drive, "section": name, "pair": pair, "impedance": f"{ohm} ohm", "presets": [f"p-{name}"]}
        row["continuous"] = f"{draw(st.floats(20.0, 1500.0)):.1f} W"
        row["rating"] = draw(st.sampled_from(["aes2", "iec-60268-5", "maker", "unknown"]))
        lowest = draw(st.sampled_from([None, 0.7, 0.9]))
        row |= {"minimum": f"{lowest * ohm:.3f} ohm"} if lowest else {}
        sections.append(row)
    limits = draw(st.sampled_from([None, 0.8, 1.0]))
    presets = []
    for row in sections:
        watts = float(row["continuous"].split()[0])
        preset = {"id": f"p-{row['section']}", "uses": ["any"], "high_pass": "80 Hz"}
        presets.append(preset | ({"limiter": f"{limits * watts:.2f} W"} if limits else {}))
    return convert(Loudspeaker, {"id": "box", "sections": sections, "presets": presets})


@tries(60, *HealthCheck)
@given(amplifier=amplifiers(), box=boxes(), with_processor=st.booleans())
def test_random_libraries_agree_with_the_judge_and_with_check(amplifier, box, with_processor):
    processors = (ANY,) if with_processor else ()
    for cell in cells_of(amplifier, box, processors=processors).values():
        agrees_with_judge(cell, processors)
        agrees_with_check(cell)


EIGHT = 'sections = [{ drive = "passive", section = "full", impedance = "8 ohm", continuous = "600 W" }]'


@pytest.mark.parametrize(
    ("minimum", "boxes"),
    [("8 ohm", 1), ("4 ohm", 2), ("2.7 ohm", 3), ("2 ohm", 4), ("1.33 ohm", 6)],
)
def test_boxes_of_eight_ohm_in_parallel(minimum, boxes):
    """8 ohm in parallel, 2, 3, 4 and 6 of them: 4, 2.667, 2, 1.333 ohm (Ohm's law; any handbook)."""
    amplifier = model("amplifier", f'channels = 2\npowers = [{{ load = "{minimum}", power = "2000 W" }}]')
    cell = cells_of(amplifier, model("loudspeaker", EIGHT))["single", "passive"]
    assert (cell.per_output, cell.per_amplifier, cell.set_by) == (boxes, 2 * boxes, "minimum-load")
    # 2000 W of sine into the minimum: its volts on each box, and noise of 6 dB crest averages half of a sine's watts.
    assert cell.sections[0].clean_w == pytest.approx(2000.0 / boxes / 2, rel=0.02)


def test_bridged_each_half_sees_half_of_the_load():
    """Two channels that bear 2 ohm each bear 4 ohm bridged (each side sees half; public encyclopedia text)."""
    powers = '[{ load = "4 ohm", power = "50 W" }, { load = "2 ohm", power = "100 W" }]'
    amplifier = model("amplifier", f"channels = 2\nbridgeable = true\nparallelable = true\npowers = {powers}")
    four = EIGHT.replace("8 ohm", "4 ohm").replace("600 W", "100 W")
    cells = cells_of(amplifier, model("loudspeaker", four))
    bridged = cells["bridged", "passive"]
    assert (bridged.per_output, bridged.per_amplifier) == (1, 1)
    # Two channels of 50 W into 4 ohm, here of 100 W into 2 ohm, bridged into 4 ohm: 28.28 V, 200 W.
    assert bridged.sections[0].solved.can_give_v == pytest.approx(28.28, abs=0.005)
    assert bridged.sections[0].clean_w == pytest.approx(100.0)
    assert bridged.preferred_per_output == 0  # each half sees 2 ohm, under the preferred 4
    paralleled = cells["paralleled", "passive"]
    assert (paralleled.per_output, paralleled.preferred_per_output) == (4, 2)
    assert cells["single", "passive"].per_output == 2  # 2 ohm, and 50 W for each, half of their 100 W: not under it


def test_a_low_minimum_counts_by_it():
    """A section of 8 ohm that falls to 5.12 ohm is a box of 6.4 ohm (IEC 60268-5 clause 16: 80 %, from memory)."""
    amplifier = model("amplifier", 'channels = 1\npowers = [{ load = "4 ohm", power = "2000 W" }]')
    plain, low = (
        model("loudspeaker", EIGHT.replace('"8 ohm"', f'"8 ohm"{more}')) for more in ("", ', minimum = "5.12 ohm"')
    )
    assert cells_of(amplifier, plain)["single", "passive"].per_output == 2
    assert cells_of(amplifier, low)["single", "passive"].per_output == 1


def test_what_nobody_allows_is_not_charted():
    amplifier = model("amplifier", 'channels = 4\npowers = [{ load = "4 ohm", power = "900 W" }]')
    assert set(cells_of(amplifier, model("loudspeaker", EIGHT))) == {("single", "passive")}


def test_gaps_are_said():
    amplifier = model("amplifier", 'channels = 2\npowers = [{ load = "4 ohm", power = "900 W" }]')
    box = model("loudspeaker", 'sections = [{ drive = "passive", section = "full", impedance = "8 ohm" }]')
    cell = cells_of(amplifier, box)["single", "passive"]
    assert (cell.per_output, cell.worst.headroom_db) == (2, None)
    notes = " ".join(cell.notes)
    assert "no continuous rating of its full section: watts and headroom are not judged" in notes
    assert "no gain and no sensitivity: thresholds at its input are not known" in notes
    blank = model("loudspeaker", 'sections = [{ drive = "passive", section = "full", continuous = "100 W" }]')
    nothing = cells_of(amplifier, blank)["single", "passive"]
    assert (nothing.set_by, nothing.per_output) == ("unknown", 0)
    assert "no impedance of its full section" in nothing.refusal.says
    powerless = cells_of(model("amplifier", "channels = 2\npowers = []"), box)["single", "passive"]
    assert powerless.set_by == "unknown"
    assert "no powers" in powerless.refusal.says


def test_pins_that_no_connector_carries_are_said():
    """Own: the large box wants pairs 1, 2 and 3; the portable amplifier's connectors carry 1 and 2."""
    cells = {(c.amplifier.id, c.mode, c.candidate.title): c for c in every_cell()}
    said = "no connector carries pin pair 1 and 2 and 3, single"
    assert any(said in note for note in cells["portable-four-hosting", "single", "three-way-large"].notes)
    for amplifier, mode, box in (
        ("eight-channel-hosting", "single", "three-way-large"),  # its eight-pole socket carries four pairs
        ("portable-four-hosting", "single", "two-way-12-inch bi-amp"),
        ("four-channel-hosting", "bridged", "sub-double-18-inch"),
    ):
        assert not any("no connector" in note for note in cells[amplifier, mode, box].notes)
    bridged = cells["four-channel-hosting", "bridged", "two-way-12-inch bi-amp"].notes
    assert any("no connector carries pin pair 1 and 2, bridged" in note for note in bridged)


def test_a_lead_takes_its_share():
    """20 m of 2.5 mm² class 5: loop 0.3192 ohm (IEC 60228 table 3), into 4 ohm 0.667 dB (20 log (1 + R/Z))."""
    cable = model("cable", 'cores = 4\narea = "2.5 mm²"')
    amplifier = model("amplifier", 'channels = 2\npowers = [{ load = "4 ohm", power = "900 W" }]')
    cell = cells_of(amplifier, model("loudspeaker", EIGHT), Terms(cable=cable, length_m=20.0))["single", "passive"]
    assert cell.per_output == 2
    assert cell.worst.loss_db == pytest.approx(0.667, abs=0.001)
    two_core = model("cable", 'cores = 2\narea = "2.5 mm²"')
    bi_amp = DEMONSTRATION.loudspeakers[[m.id for m in DEMONSTRATION.loudspeakers].index("two-way-12-inch")]
    lost = cells_of(amplifier, bi_amp, Terms(cable=two_core, length_m=20.0))["single", "bi-amp"]
    assert (lost.set_by, lost.refusal.says) == ("cable", "'cable' has no core for pin pair 2")


def test_the_command_gives_the_contract(capsys):
    assert run(["chart", "portable-four-hosting", "two-way-12-inch", "8ohm/300W", "--json"]) == 0
    answer = msgspec.json.decode(capsys.readouterr().out)
    cells = {(cell["box"], cell["drive"]): cell for cell in answer["cells"]}
    assert set(cells) == {("two-way-12-inch", "passive"), ("two-way-12-inch", "bi-amp"), ("8ohm/300W", "passive")}
    bi_amp = cells["two-way-12-inch", "bi-amp"]
    # 680 W into 4 ohm for two of 340 W: 170 W clean each, 0 dB over the rating; own, worked by hand.
    wanted = {"per_output": 2, "per_amplifier": 4, "set_by": "minimum-load", "preset": "hosted", "rated_w": 340.0}
    assert {key: bi_amp[key] for key in wanted} == wanted
    assert bi_amp["clean_w"] == pytest.approx(170.0)
    assert bi_amp["limited_w"] == pytest.approx(300.0)
    assert bi_amp["headroom_db"] == pytest.approx(0.0, abs=1e-9)
    assert cells["8ohm/300W", "passive"]["assumed"]
    assert cells["8ohm/300W", "passive"]["preset"] == "none"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nothing-like-it"], "no amplifier or loudspeaker 'nothing-like-it'"),
        (["8ohm/0W"], "expected ohms and watts above 0, as in 8ohm/300W, got '8ohm/0W'"),
        (["--use", "loud"], "expected one of full range, with sub, wedge, wedge with sub, got 'loud'"),
        (["--cable", "four-core-2.5"], "expected a cable and its length"),
        (["--cable", "four-core-2.5 20 kg"], "expected a length"),
        (["--preferred", "4 W"], "expected an impedance"),
    ],
)
def test_what_cannot_be_used_is_said_in_one_line(arguments, says, capsys):
    assert run(["chart", *arguments]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert says in err


def test_the_chart_fits_eighty_columns(capsys):
    assert run(["chart"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert "eight-channel-hosting, bridged: 4 outputs of minimum 4 Ω" in lines
    assert run(["chart", "portable-four-hosting", "two-way-8-inch"]) == 0
    text = capsys.readouterr().out
    assert "most: 2 on one output, 8 on the amplifier, set by the minimum load" in text
