"""Every fact on a page is that of the rig: tables compared with what `lines --json` says, and with the stock."""

import itertools
import re
from collections import Counter

import pytest
from budget import thoroughly
from rigs import MODELS, box, show_of
from sheet_tools import files, material, sample, sample_pages, table

from fieldkit import samples
from fieldkit.checks.stock import used_cables, used_models
from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.reports.objects import lines_object
from fieldkit.rig.signal.chain import signal_cables, signal_paths
from fieldkit.rig.signal.delays import zone_delays
from fieldkit.sheets.collection import PAGES, make_page
from fieldkit.sheets.diagram import diagram_lines
from fieldkit.sheets.drawings import room_plan
from fieldkit.sheets.material import material_of
from fieldkit.sheets.page import Diagram, Items, RunDrawing, Stickers
from fieldkit.sheets.text import page_text
from fieldkit.show.opening import open_show
from fieldkit.triage.model.odds import table as table_of_odds
from fieldkit.triage.rig_check import meter_pass as rig_check


@pytest.fixture(scope="module", params=samples.names())
def one(request):
    return sample(request.param)


@pytest.fixture(scope="module")
def said(one):
    return lines_object(one.rig)


def test_patch_by_rack(one, said):
    outputs = {output["id"]: output for output in said["outputs"]}
    rows = {row["line"]: row for row in table(one, "patch", "patch-by-rack") if row["line"]}
    lines = {line["id"]: line for line in said["lines"] if line["output"]}
    assert rows.keys() == lines.keys()
    for name, line in lines.items():
        row = rows[name]
        assert row["output"] == line["output"]
        assert row["boxes"].split() == list(dict.fromkeys(box["box"] for box in line["boxes"])) or not line["boxes"]
        assumed = " (assumed)" if outputs[line["output"]]["assumed"] else ""
        assert row["section"] == f"{line['section']}{assumed}"
        assert set(row["preset"].replace(" (guessed)", "").split()) == {
            box["preset"] or "none" for box in line["boxes"]
        }
        assert row["load"] == outputs[line["output"]]["load_ohm"]
        assert row["fed from"] == (outputs[line["output"]]["source"] or "not planned")
    free = {row["output"] for row in table(one, "patch", "patch-by-rack") if row["boxes"] == "free"}
    assert free == {output["id"] for output in said["outputs"] if not output["lines"]}


def test_patch_by_zone(one, said):
    rows = table(one, "patch", "patch-by-zone")
    assert {row["box"] for row in rows} == {box.id for box in one.show.boxes}
    fed = Counter((row["line"], row["output"], row["box"], row["section"]) for row in rows if row["line"])
    assert fed == Counter(
        (line["id"], line["output"], box["box"], box["section"]) for line in said["lines"] for box in line["boxes"]
    )
    zones = {box.id: box.zone for box in one.show.boxes}
    assert all(zones[row["box"]] == row["zone"] for row in rows)


def test_limiters(one, said):
    """Each output has its own row; of the outputs on one host, the threshold that comes first rules."""
    limiters = {line["output"]: line["limiter"] for line in said["lines"] if line["limiter"]}
    hosts = {output["id"]: output["host"] for output in said["outputs"]}
    [found] = [item for item in make_page(one, "settings").tables if item.name == "limiters"]
    names = [f"{column.title} {column.unit}".strip() for column in found.columns]
    for values in found.rows:
        row = dict(zip(names, values, strict=True))
        own = limiters.pop(row["output"].removesuffix(" (assumed)"))
        if row["slow limiter in the host dBu"] is None:
            continue
        fed = [line["limiter"] for line in said["lines"] if line["limiter"] and hosts[line["output"]] == row["host"]]
        ruling = min(fed, key=lambda item: item["input_dbu"])
        assert row["slow limiter in the host dBu"] == pytest.approx(ruling["input_dbu"])
        assert row["slow limiter in the host dBV"] == pytest.approx(ruling["input_dbu"] - 2.2185, abs=1e-4)  # 0 dBV
        assert row["slow limiter in the host dBFS"] == ruling["input_dbfs"]
        assert row["slow limiter at the posts V rms"] <= own["thermal_v"] * (1 + 1e-9)
        assert row["set slow limiter V rms"] is None or row["unit"].endswith("(in the amplifier)")
    assert not limiters


def test_gains(one, said):
    outputs = {output["id"]: output for output in said["outputs"]}
    rows = table(one, "settings", "gains")
    assert {row["output"] for row in rows} == {line["output"] for line in said["lines"] if line["boxes"]}
    for row in rows:
        output = outputs[row["output"]]
        assert row["mode"].endswith("(assumed)") is output["assumed"]
        found = (row["mode"].removesuffix(" (assumed)"), row["load"], row["gain to the posts"], row["full output"])
        assert found == tuple(output[name] for name in ("mode", "load_ohm", "gain_db", "can_give_v"))


def test_presets_are_those_of_the_rig(one, said):
    rows = table(one, "settings", "presets")
    hosts = {output["id"]: output["host"] or output["id"] for output in said["outputs"]}
    fed = {(hosts[line["output"]], box["box"]) for line in said["lines"] if line["output"] for box in line["boxes"]}
    powered = {
        (box.input or box.id, box.id) for box in one.show.boxes if box.id in {path.to for path in signal_paths(one.rig)}
    }
    assert {(row["host"], box) for row in rows for box in row["boxes"].split()[:-1]} >= fed
    assert len(rows) == len({host for host, _ in fed} | {host for host, _ in powered})


def test_delays_are_those_of_the_rig(one):
    rows = table(one, "settings", "delays")
    assert [(row["zone"], row["delay"], row["why"]) for row in rows] == [
        (item.zone, 1e3 * item.delay_s, item.why) for item in zone_delays(one.rig)
    ]


def test_the_processor_of_the_musical_can_be_set_from_its_page():
    """Signal, input, filters, gain, delay and thresholds of each output in use, on one page."""
    rows = {row["host"]: row for row in table(sample("school_musical"), "settings", "presets")}
    assert (rows["DP.3"]["signal"], rows["DP.3"]["input"], rows["DP.3"]["preset high-pass"]) == ("Voices", "2", 130.0)
    slow = [row["output"] for row in table(sample("school_musical"), "settings", "limiters") if row["host"] == "DP.1"]
    assert slow == ["A1.1", "A1.2"]


def test_every_signal_cable_is_in_the_patch_and_has_a_label_at_each_end(one):
    cables = signal_cables(one.rig)
    rows = table(one, "patch", "signals")
    assert [(row["cable"], row["from"], row["to"], row["carries"]) for row in rows] == [
        (cable.id, cable.start, cable.end, cable.signal) for cable in cables
    ]
    labelled = [row["cable"] for row in table(one, "labels", "signal-ends")]
    assert labelled == [cable.id for cable in cables if cable.kind == "signal cable"]
    [stickers] = [block for block in make_page(one, "labels").blocks if isinstance(block, Stickers)]
    assert all(sum(name == cable for name, _ in stickers.labels) == 2 for cable in labelled)


def test_expected_readings(one, said):
    rows = {row["line"]: row for row in table(one, "rig-check", "rig-check")}
    lid = {(row["output"], row["reads"]) for row in table(one, "lid", "lid")}
    for line in said["lines"]:
        [amp, *others] = line["expected"] or [None]
        if amp is None:
            continue
        row = rows[line["id"]]
        if amp["dc_ohm"] == "open":
            assert row["reads"] == "open"
        else:
            assert (row["reads"], row["from"], row["to"]) == tuple(
                amp["dc_ohm"][key] for key in ("value", "low", "high")
            )
        assert line["output"] is None or (line["output"], row["reads"]) in lid
        assert row["at 1 kHz"] == (amp["z1k_ohm"]["value"] if amp["z1k_ohm"] else None)
        points = [row["at"] for row in table(one, "rig-check", "meter-points") if row["line"] == line["id"]]
        assert points == [other["at"] for other in others]


def test_readings_that_were_taken_are_on_the_page():
    rows = {row["line"]: row["read"] for row in table(sample("open_air"), "rig-check", "rig-check")}
    assert rows["W1/1"] == "3.0 ohm (crew)"
    assert rows["W4/2"] == ""


def test_verdicts_are_those_of_the_command_readings(one):
    entries = [entry for entry in rig_check.entries(one.rig, table_of_odds()) if entry.dc or entry.z1k]
    rows = table(one, "rig-check", "verdicts")
    assert [(row["line"], row["at"], row["verdict"]) for row in rows] == [
        (entry.line, entry.at, entry.says) for entry in entries
    ]


def test_each_piece_of_each_run_is_on_the_wiring_page_once(one):
    rows = table(one, "wiring", "wiring")
    assert [(row["run"], row["step"]) for row in rows] == [
        (run.id, number) for run in one.show.runs for number in range(1, len(run.path) + 1)
    ]
    drawings = [block for block in make_page(one, "wiring").blocks if isinstance(block, RunDrawing)]
    for run, drawing in zip(one.show.runs, drawings, strict=True):
        boxes = [stop.title.split()[0] for stop in drawing.stops if stop.kind == "box"]
        assert boxes == [step.box for step in run.path if step.box]
        taps = [(stop.title.split()[0], pair) for stop in drawing.stops for pair in stop.taps]
        loads = [
            (load.box.id, piece.pair_out)
            for line in one.rig.lines
            if line.run.id == run.id
            for piece in line.pieces
            for load in piece.loads
        ]
        assert sorted(taps) == sorted(loads)


def test_the_ends_can_be_followed_from_the_amplifier_to_the_last_box(one):
    """With the labels alone: into what each cable goes at one end, the next one comes out of."""
    ends = {row["end"]: row for row in table(one, "labels", "cable-ends")}
    assert len(ends) == 2 * sum(map(len, used_cables(one.rig).values()))
    assert all(ends[row["other end"]]["other end"] == name for name, row in ends.items())
    for run in one.show.runs:
        cables = [row for row in table(one, "wiring", "wiring") if row["run"] == run.id and row["near end"]]
        first = ends[cables[0]["near end"]]["plugs into"]
        assert run.start.split(".")[0] in first
        assert first.endswith(run.start.split(".")[1])
        for before, after in itertools.pairwise(cables):
            into, out_of = ends[before["far end"]]["plugs into"], ends[after["near end"]]["plugs into"]
            assert into.split()[0] == out_of.split()[0] or "adaptor" in into + out_of
        last = run.path[-1]
        assert last.box in ends[cables[-1]["far end"]]["plugs into"] or last.cable is None


def test_the_pull_list_counts_every_signal_cable_and_link(one):
    counted = Counter(cable.kind for cable in signal_cables(one.rig))
    rows = table(one, "pull", "pull-signals")
    assert sum(row["used"] for row in rows) == counted["signal cable"] + counted["link"]
    assert sum(row["used"] for row in rows if row["to"] == "the next input") == counted["link"]


def test_the_pull_list_is_what_is_used(one):
    rows = table(one, "pull", "pull-models")
    unknown = sum(box.model is None for box in one.show.boxes)
    used = +(used_models(one.rig) + Counter({"no data sheet": unknown}))
    assert {row["model"]: row["used"] for row in rows} == used
    for row in rows:
        stock = [item for item in one.show.stock if item.model == row["model"] and item.length is None]
        have = sum(item.owned + item.hired - item.out for item in stock)
        own = sum(max(0, item.owned - item.out) for item in stock)
        assert row["in stock"] == (own if stock else "not listed")
        assert (row["hired"] or 0) == (have - own if stock else 0)
        assert (row["short"] or 0) == (max(0, row["take"] - have) if stock else 0)
    cables = Counter({(row["cable"], row["length"]): row["used"] for row in table(one, "pull", "pull-cables")})
    assert cables == Counter((model, text) for model, lengths in used_cables(one.rig).items() for _, text in lengths)


def test_what_goes_out_is_what_is_hired_and_what_is_needed(one):
    needed = Counter()
    for row in table(one, "pull", "pull-models"):
        have = row["take"] if row["in stock"] == "not listed" else row["in stock"] + (row["hired"] or 0)
        needed[row["model"]] += min(row["take"], have)
    out = Counter()
    for row in table(one, "return", "return"):
        if not row["length"]:
            out[row["model"]] += row["out"]
    hired = Counter()
    for item in one.show.stock:
        hired[item.model] += item.hired
    serials = {(box.model, box.serial) for box in one.show.boxes if box.serial}
    # What is out of service and yet named by the plan goes out too; the findings say what they think of it.
    planned_ill = Counter(item.model for item in one.show.stock if item.out and (item.model, item.serial) in serials)
    for model, count in needed.items():
        assert out[model] == max(count, hired[model]) + planned_ill[model]


# ---- own, worked by hand ---------------------------------------------------------------------------------------

HALL = """
[[boxes]]
id = "A1"
model = "top"
zone = "mains"
[[boxes]]
id = "A2"
model = "top"
zone = "mains"
[[boxes]]
id = "A3"
model = "top"
zone = "mains"
[[rack_units]]
id = "A"
model = "quad"
[[runs]]
id = "W1"
from = "A.A"
path = [{ cable = "two", length = "20 m", box = "A1" }, { cable = "two", length = "5 m", box = "A2" }]
[[runs]]
id = "W2"
from = "A.B"
path = [{ cable = "two", length = "20 m", box = "A3" }]
[[stock]]
model = "two"
length = "20 m"
owned = 1
[[stock]]
model = "two"
length = "30 m"
owned = 1
hired = 1
hired_from = "an invented shop"
due = 2026-06-22
[[stock]]
model = "two"
length = "5 m"
owned = 4
out = 1
back = 1
[[stock]]
model = "top"
owned = 4
back = 2
"""

CHOICES = '[show]\nname = "Hall"\nsheets = { spare_cables = "50 %", spare_loudspeakers = "10 %" }\n'


def with_cases(text):
    from rigs import MODELS, show_of

    from fieldkit.sheets.material import material_of

    models = MODELS.replace('id = "top"\n', 'id = "top"\nweight = "20 kg"\ncase = { holds = 2, weight = "12 kg" }\n')
    models = models.replace('id = "two"\n', 'id = "two"\nweight = "0.1 kg"\n').replace(
        "format = 2\n", "format = 2\n" + text[0]
    )
    return material_of(show_of(text[1], models))


def test_spares_cases_and_weight():
    one = with_cases((CHOICES, HALL))
    [top, *_] = table(one, "pull", "pull-models")
    # 3 in use, 10 % of 3 is 0.3: one whole spare; 4 in stock, none short
    assert (top["used"], top["spare"], top["take"], top["in stock"], top["short"]) == (3, 1, 4, 4, None)
    cables = {row["length"]: row for row in table(one, "pull", "pull-cables")}
    # Two 20 m: the 20 m piece and the shorter of what is longer, a 30 m; 50 % of 2 is 1 spare: the other 30 m
    assert cables["20 m"]["pieces found"] == "1 × 20 m, 2 × 30 m"
    assert cables["20 m"]["short"] is None
    # One 5 m and one spare (50 % of 1, rounded up), of 3 that work
    assert (cables["5 m"]["take"], cables["5 m"]["pieces found"]) == (2, "2 × 5 m")
    cases = {row["model"]: row for row in table(one, "pull", "cases")}
    assert (cases["top"]["cases"], cases["top"]["pieces weigh"], cases["top"]["cases weigh"]) == (2, 80, 24)
    # 20 + 30 + 30 + 5 + 5 = 90 m of 0.1 kg a metre
    assert cases["two"]["pieces weigh"] == pytest.approx(9.0)


def test_what_came_back():
    one = with_cases((CHOICES, HALL))
    rows = {(row["model"], row["length"]): row for row in table(one, "return", "return")}
    assert rows["top", ""]["out"] == 4
    assert (rows["top", ""]["in"], rows["top", ""]["missing"]) == (2, 2)
    assert (rows["two", "5 m"]["out"], rows["two", "5 m"]["faulty"], rows["two", "5 m"]["missing"]) == (2, 1, 1)
    assert rows["two", "30 m"]["goes to"] == "own, and 1 to an invented shop"
    assert rows["two", "30 m"]["due back"] == "2026-06-22"
    assert rows["two", "20 m"]["in"] is None  # nobody has counted


def test_lengths_and_weights_as_the_reader_wants_them():
    # 1 ft = 0.3048 m and 1 lb = 0.45359237 kg, exactly (NIST SP 811): 15 m = 49.2 ft, 272 kg = 600 lb
    metric, imperial = sample("open_air", "metric"), sample("open_air", "imperial")
    assert table(metric, "wiring", "wiring")[0]["length"] == "15 m"
    assert table(imperial, "wiring", "wiring")[0]["length"] == "49.2 ft"
    [boxes, *_] = table(imperial, "pull", "cases")
    assert boxes["pieces weigh"] == pytest.approx(4 * 68 / 0.45359237)
    typed = material('[[boxes]]\nid = "B"\nmodel = "top"\nzone = "mains"\n[[rack_units]]\nid = "A"\nmodel = "quad"\n'
        '[[runs]]\nid = "W"\nfrom = "A.A"\npath = [{ cable = "two", length = "82 ft", box = "B" }]\n')  # fmt: skip
    assert table(typed, "wiring", "wiring")[0]["length"] == "82 ft"
    typed.units = "metric"
    assert table(typed, "wiring", "wiring")[0]["length"] == "25 m"


def test_a_page_in_imperial_units_has_no_metre_kilogram_or_celsius():
    """What is marked on a cable stays as it is marked: its cross-section."""
    slow = {"rack-folders", "if-it-fails", "chart"}
    written = files(sample("open_air", "imperial"), [*set(PAGES) - slow], formats=["text"])
    for name, text in written.items():
        assert not re.search(r"\d (m|km|kg|mm|°C)(?![\w²])", " ".join(text.split())), name
    assert "air 75.2 °F" in " ".join(written["contact.txt"].split())  # 24 °C · 9/5 + 32
    assert "85.30 ft against 82.68 ft" in " ".join(written["settings.txt"].split())  # 26 m and 25.2 m over 0.3048


def test_stickers_for_boxes_adaptors_and_breakouts_with_type_and_length():
    [cut] = [block for block in make_page(sample("open_air"), "labels").blocks if isinstance(block, Stickers)]
    labels = {}
    for name, lines in cut.labels:
        labels.setdefault(name, []).append(" / ".join(lines))
    assert labels["W7-B"] == ["into FL1 input / other end W7-A / 10 m two-core-2.5 4-pole / W7/1 FX.1"]
    assert labels["M1A"] == ["wedges mix-1 / input W10-B / switch: passive / stage-wedge-12-inch"]
    assert labels["W9 adaptor"] == ["at the link of DFS / before W9-C / pair-crossing / 4-pole to 4-pole"]
    assert labels["BOX"] == ["behind MULTI-B / A W10-A, B W11-A, C W12-A, D W13-A / stage-breakout-singles"]


def test_the_ladder_of_an_output():
    """Own, worked by hand: √(500 W · 8 Ω) = 63.2 V for long; 2500 W peak through 8 Ω are 141 V; 141 V / √2 is 42.2 dBu."""
    text = page_text(make_page(sample("open_air"), "drawings"))
    ladder = text.split("\nLEFT-1.1  ML1 ML2\n")[1].split("LEFT-1.2")[0]
    rungs = [re.split(r"\s{2,}|(?<=peak) |(?<=rms) ", line.strip())[:3] for line in ladder.splitlines()]
    assert [(rung[0], rung[1]) for rung in rungs] == [
        ("box bears, peaks", "141 V peak"),
        ("amplifier clips", "94.1 V peak"),  # √(1100 W · 4 Ω) = 66.3 V rms at 4 Ω, 66.6 V at 4.16 Ω: · √2
        ("fast limiter", "94.1 V peak"),
        ("box bears, for long", "63.2 V rms"),
        ("slow limiter", "63.2 V rms"),
    ]
    assert "+42.2 dBu" in ladder


def test_the_plan_of_a_field_is_drawn_short_where_nothing_stands_and_shows_the_edge_of_the_stage():
    """Worked by hand: 22 m across on 52 cells is 0.423 m a cell: ML1 stands 1.5 m in, or 4, MR2 19.6 m, or 46."""
    lines = list(diagram_lines(room_plan(material_of(open_show("sample_shows/open_air.toml").show))))
    row = {word: number for number, line in enumerate(lines) for word in line.split()}
    column = {word: line.index(f"* {word}") for line in lines for word in ("ML1", "MR2", "DL1") if f"* {word}" in line}
    assert (column["ML1"] - column["DL1"], column["MR2"] - column["DL1"]) == (4, 46)
    assert row["DFS"] < row["M1A"] < row["edge"] < row["ML1"] < row["short"] < row["DL1"]
    assert any(" 43 m with nothing in it, drawn short " in line for line in lines)  # from 1.3 m to 44 m
    assert "22 m across, 49 m deep" in lines[-1]


def test_the_plan_of_the_room_is_to_scale():
    """Own, worked by hand: 12 m across and 30 m deep; a cell is 6.7 by 14 px, so 40 rows of 30 m set the scale.

    30 m / (40 · 14 px) = 0.0536 m/px: 12 m are 224 px or 33 columns, and the listeners 20 m out 373 px or 27 rows.
    """
    places = {"ML": "0 m, -6 m, 5 m", "MR": "0 m, 6 m", "DL": "30 m, -6 m", "DM": "30 m, -6 m"}
    show = "".join(box(name, "mains", more=f'position = "{place}"\n') for name, place in places.items()) + box("X")
    models = MODELS.replace('id = "mains"', 'id = "mains"\nlisteners = "20 m, 0 m"')
    plan = room_plan(material_of(show_of(show, models)))
    lines = list(diagram_lines(plan))
    assert plan.title == "Plan of the room; 1 box without a position"
    [listeners] = [row for row, line in enumerate(lines) if "o mains" in line]
    assert (lines[2].index("* MR") - lines[2].index("* ML"), listeners - 2) == (33, 27)
    assert lines[42].index("* DL") == lines[43].index("* DM") == lines[2].index("* ML")  # the second steps aside
    assert "12 m across, 30 m deep" in lines[-1]


def test_the_supply_tree_and_the_flow_say_what_the_tables_say(one):
    text = page_text(make_page(one, "drawings"))
    for row in table(one, "supply", "supply-loads"):
        assert re.search(rf"{re.escape(row['phase'])} +\[[#.]*[\]!] {row['load']:.3g} A of ", text), row
    flow = text.split("Supply tree")[0]
    for path in signal_paths(one.rig):
        assert path.to in flow
    drawn = [block for block in make_page(one, "drawings").blocks if isinstance(block, Diagram)]
    assert all(len(line) <= 76 for block in drawn for line in diagram_lines(block))


def test_the_label_in_the_hand():
    """A cable end labelled W7-B: into what, what is at the other end, which output."""
    ends = {row["end"]: row for row in table(sample("open_air"), "labels", "cable-ends")}
    assert ends["W7-B"]["plugs into"] == "FL1 input"
    assert ends["W7-C"]["plugs into"] == "FL1 link"
    assert ends["W7-D"]["carries"] == "W7/1 FX.1"
    assert ends["MULTI-B"]["plugs into"] == "BOX inlet"
    assert ends["MULTI-A"]["carries"] == "W10/1 FX.5, W11/2 FX.6, W12/3 FX.7, W13/4 FX.8"


def test_one_page_for_the_lid_of_the_hall():
    rows = {row["output"]: row for row in table(sample("village_hall"), "lid", "lid")}
    assert rows["AMP.1"]["to"] == "SL sub"
    assert (rows["AMP.2"]["to"], rows["AMP.2"]["preset"]) == ("TL full", "with-sub (guessed)")
    assert rows["AMP.2"]["plug"] == "W1-A in A"


def test_the_page_for_each_loss_says_what_the_plan_for_it_says():
    one = sample("school_musical")
    [page] = [page for page in sample_pages("school_musical") if page.key == "if-it-fails"]
    lists = {block.title: block.items for block in page.blocks if isinstance(block, Items)}
    assert list(lists) == [f"R: {unit.id}" for unit in one.show.rack_units]
    first, *others = one.show.rack_units
    for unit in thoroughly(first, others[-1], more=others[:-1]):
        found = fail_over(one.show, [unit.id])
        said = "\n".join(text for item in lists[f"R: {unit.id}"] for text in item)
        assert [step.says for move in found.moves for step in move.steps if step.says not in said] == []
        assert {item.box for item in found.stays_silent} <= set(said.replace(",", " ").split())


def test_a_rack_where_nothing_can_be_done_says_what_a_spare_would_save():
    hall = sample("village_hall")
    [block] = [block for block in make_page(hall, "if-it-fails").blocks if isinstance(block, Items)]
    [[line]] = block.items
    assert line.startswith("AMP: no move helps; silent: SL, TL, SR, TR. Before the show: a spare portable-four-hosting")
    assert line.endswith("would save SL, TL, SR, TR.")
