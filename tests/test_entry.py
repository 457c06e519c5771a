"""The entry line: what a person means by it, written by hand as the file has it; any order; never a traceback."""

import itertools
import json
import re
from pathlib import Path

import msgspec
import pytest
from budget import tries
from hypothesis import given
from hypothesis import strategies as st

from fieldkit import guide
from fieldkit.commands.cli import run
from fieldkit.errors import FieldkitError
from fieldkit.planning.entry.line import KINDS, finished, read_entry
from fieldkit.planning.entry.writing import line_of
from fieldkit.reports.entries import entry_text
from fieldkit.show.decoding import decode
from fieldkit.show.opening import open_show

SAMPLES = Path("sample_shows")
SHOW = """
format = 2
[[zones]]
id = "mains"
[[boxes]]
id = "ML9"
model = "two-way-12-inch"
zone = "mains"
side = "left"
[[racks]]
id = "RIGHT"
[[rack_units]]
id = "SR-1"
model = "four-channel-hosting"
[[stock]]
model = "four-core-2.5"
length = "15 m"
owned = 2
"""


@pytest.fixture(scope="module")
def show():
    import tomllib

    from fieldkit.gear.library import find
    from fieldkit.show.borrowing import borrowed

    return borrowed(decode(tomllib.loads(SHOW)), find)[0]


def rows(show, line):
    entry = read_entry(show, line)
    return [json.loads(msgspec.json.encode(thing, enc_hook=str)) for thing in entry.made.things]


def box(name, **more):
    return {"id": name, "model": "two-way-12-inch", "zone": "mains"} | more


# What a technician means by each line, written down by hand.
MEANT = [
    (
        "4 two-way-12 mains left bi-amp ML1-4",
        [box(f"ML{number}", side="left", drive="bi-amp") for number in (1, 2, 3, 4)],
    ),
    ("2 two-way-12 mains left", [box("ML10", side="left"), box("ML11", side="left")]),
    ("two-way-12 mains MR9", [box("MR9", side="right")]),
    ("3 two-way-12 mains M1", [box("M1"), box("M2"), box("M3")]),
    ("1 two-way-12 mains FL1-2", [box("FL1-2", side="left")]),
    (
        "2 sub-double subs each",
        [
            {"id": name, "model": "sub-double-18-inch", "zone": "subs", "side": side}
            for name, side in (("SL1", "left"), ("SL2", "left"), ("SR1", "right"), ("SR2", "right"))
        ],
    ),
    (
        "8ohm 250W side lounge zone bar B1 ladder",
        [
            {
                "id": "B1",
                "unknown": {"impedance": "8ohm", "continuous": "250W"},
                "zone": "bar",
                "side": "lounge",
                "reach": "ladder",
            }
        ],
    ),
    (
        "amp four-channel-hosting RIGHT-1 rack RIGHT bridged 1+2 3=Sub",
        [
            {
                "id": "RIGHT-1",
                "model": "four-channel-hosting",
                "rack": "RIGHT",
                "bridged": ["1+2"],
                "inputs": {"3": "Sub"},
            }
        ],
    ),
    (
        "2 amp portable A1",
        [{"id": "A1", "model": "portable-four-hosting"}, {"id": "A2", "model": "portable-four-hosting"}],
    ),
    ("4 x two-way-12 mains M1", [box("M1"), box("M2"), box("M3"), box("M4")]),
    ("2 two-way-12 stage left", [box("SL1", zone="stage", side="left"), box("SL2", zone="stage", side="left")]),
    ("3 amps portable", [{"id": name, "model": "portable-four-hosting"} for name in ("SR-2", "SR-3", "SR-4")]),
    ("3 cables four-core-4 20m", [{"model": "four-core-4", "length": "20m", "owned": 3}]),
    ("processor two-by-six", [{"id": "DP1", "model": "processor-two-by-six"}]),
    ("2 tops", [box("T1", zone="tops"), box("T2", zone="tops")]),  # the only model of the show that is one
    ("two wedges mains", [box("M1") | {"model": "stage-wedge-12-inch"}, box("M2") | {"model": "stage-wedge-12-inch"}]),
    ("2way12 mains", [box("M1")]),
    ("two two-way 12 mains", [box("M1"), box("M2")]),
    ("two way 12 in mains", [box("M1")]),
    ("12 two-way mains M1-12", [box(f"M{number}") for number in range(1, 13)]),
    ("add two more tops, left and right of mains", [box("ML10", side="left"), box("MR1", side="right")]),
    ("6 four-core-4 10m", [{"model": "four-core-4", "length": "10m", "owned": 6}]),  # a model says what it is
    ("two portable A7", [{"id": name, "model": "portable-four-hosting"} for name in ("A7", "A8")]),
    ("hire 2 two-way-12 from shop", [{"model": "two-way-12-inch", "hired": 2, "hired_from": "shop"}]),
    ("power X9 16A 230V", [{"id": "X9", "volts": "230V", "rating": "16A"}]),
    ("2 tops left and right of mains", [box("ML10", side="left"), box("MR1", side="right")]),
    ("amp 4 channel hosting A7", [{"id": "A7", "model": "four-channel-hosting"}]),
    ("stock six four core 2.5 10m", [{"model": "four-core-2.5", "length": "10m", "owned": 6}]),
    (
        "generator 63A 230V three-phase",
        [{"id": "GEN-1", "volts": "230V", "rating": "63A", "phases": 3, "network": "private"}],
    ),
    (
        "run SR-1.A to ML9",  # the stock has leads of one length
        [{"id": "W1", "from": "SR-1.A", "path": [{"cable": "four-core-2.5", "length": "15 m", "box": "ML9"}]}],
    ),
    (
        "run SR-1.A 15m ML9",
        [{"id": "W1", "from": "SR-1.A", "path": [{"cable": "four-core-2.5", "length": "15m", "box": "ML9"}]}],
    ),
    (
        'run W7 SR-1.B four-core-4 50 ft inline-coupler "5 m" ML9',
        [
            {
                "id": "W7",
                "from": "SR-1.B",
                "path": [
                    {"cable": "four-core-4", "length": "50 ft"},
                    {"adaptor": "inline-coupler"},
                    {"cable": "four-core-4", "length": "5 m", "box": "ML9"},
                ],
            }
        ],
    ),
    ("rack LEFT left units 12", [{"id": "LEFT", "side": "left", "units": 12}]),
    (
        'zone delay distance 28m priority 3 left="Mix 1" near mains',
        [{"id": "delay", "distance": "28m", "priority": 3, "signals": {"left": "Mix 1"}, "near": ["mains"]}],
    ),
    (
        "supply X1 32A 230V three-phase 60m 16mm²",
        [{"id": "X1", "volts": "230V", "rating": "32A", "phases": 3, "feeder": {"length": "60m", "area": "16mm²"}}],
    ),
    (
        'stock 3 stage-wedge hired from "next door" due 2026-12-01',
        [{"model": "stage-wedge-12-inch", "hired": 3, "hired_from": "next door", "due": "2026-12-01"}],
    ),
]


@pytest.mark.parametrize(("line", "meant"), MEANT, ids=[line for line, _ in MEANT])
def test_a_line_adds_what_is_meant_by_it(show, line, meant):
    assert rows(show, line) == meant


def test_the_words_of_boxes_stand_in_any_order(show):
    meant = rows(show, "2 two-way-12 mains left bi-amp ML1-2")
    for words in itertools.permutations(["2", "two-way-12", "mains", "left", "bi-amp", "ML1-2"]):
        assert rows(show, " ".join(words)) == meant, words


def test_more_stock_of_a_kind_goes_to_its_row(show):
    after = read_entry(show, "stock 4 four-core-2.5 15m").show
    assert [(row.model, row.owned) for row in after.stock] == [("four-core-2.5", 6)]
    assert len(read_entry(show, "stock 4 four-core-2.5 10m").show.stock) == 2


def test_what_is_made_beside_it_is_said(show):
    said = entry_text(read_entry(show, "amp portable A1 rack LEFT"))
    assert said[1:] == ("rack LEFT is new", "from the gear library: portable-four-hosting")


def test_labels_speak_of_sides_in_the_scripts_of_the_show(show):
    for line in ("two-way-12 mains side left 左1", "two-way-12 mains side right 右1"):
        show = read_entry(show, line).show
    assert [row["side"] for row in rows(show, "two-way-12 mains 左2 右2")] == ["left", "right"]


def test_the_lines_of_the_guide_are_understood(show):
    for line in ("2 two-way-12 mains left ML1-2", "zone subs"):
        show = read_entry(show, line).show
    page = guide.page("plan")
    block = page[page.index("    4 two-way-12") : page.index("Behind the name of its part")]
    lines = [re.split(r"\s{2,}", line.strip())[0] for line in block.splitlines() if line.strip()]
    assert len(lines) == 14
    for line in lines:
        free = msgspec.structs.replace(show, boxes=show.boxes[:1]) if "ML1-4" in line else show
        assert read_entry(free, line).added, line


REFUSED = [
    ("", "expected what to add"),
    ("2 sub mains", "may be sub-double-18-inch"),
    ("two-way mains", None),
    ("2 two-way-12 mian", "did you mean 'mains'?"),
    ("2 two-way-12 main", "'main': mains? Write it whole, or 'zone main' for a new zone"),
    ("2 two-way-12 mains ML1-3", "2 boxes, and"),
    ("two-way-12 mains ML9", "the label 'ML9' is already used"),
    ("two-way-12 mains SR-1", "the label 'SR-1' is already used"),
    ("3 two-way-12 mains left right", "3 boxes cannot be shared by left and right"),
    ("0 two-way-12 mains", "expected 1 box or more"),
    ("100 two-way-12 mains", "expected a number up to 99"),
    ("two-way-12", "in which zone? Write its name, such as mains"),
    ("two-way-12 mon3", "'mon3' is taken for a label: 'zone mon3' makes it a zone"),
    ("Two-Way-12 mains", "such as two-way-12-inch, or ohms"),
    ("2 mains", "which model?"),
    ("2 two-wy-12 mains TL TR", "such as two-way-12-inch"),
    ("amp portble-four-hosting A1", "did you mean 'portable-four-hosting'?"),
    ("two subs", "'subs' may be sub-double-18-inch, sub-single-15-inch or sub-single-18-inch"),
    ("2 two wedge mains", "'two' is not understood"),
    ("2 two-way-12 wedges mains", "two-way-12-inch is no wedge"),
    ("two-way-12 sub-double-18 mains", "a model of loudspeaker is said twice"),
    ("two-way-12 8ohm mains", "two-way-12-inch has its own ohms and watts"),
    ("8ohm mains", "the ohms alone are not enough"),
    ("250W mains", "the watts alone are not enough"),
    ("run ML9", "from which connector?"),
    ("run SR-1.A four-core-4 ML9", "how long is the lead to ML9?"),
    ("run SR-1.A 15 ML9", "15 m or 15 ft?"),
    ("run SR-1.A 15m", "to which box?"),
    ("run SR-1.1 15m ML9", "SR-1.1 is on SR-1.A"),
    ("run SR-1.A 15m ML9 3m ML9", "the run comes to ML9 twice"),
    ("run SR-1.A 15m ML9 socket 2", "'socket' belongs behind a panel"),
    ("supply X1 16", "16 of what?"),
    ("supply X1 230V", "expected the rating and the volts"),
    ("generator 63A", "63A at how many volts?"),
    ("zone", None),
    ("zone mains", "the label 'mains' is already used"),
    ("zone x near y", "expected a zone after 'near', got 'y'"),
    ("stock 2 four-core-2.5 due soon", "expected a day such as"),
    ("amp portable a[b]", "expected"),
    ("x" * 3000, "expected a line of at most 2000 characters, got 3000"),
]


@pytest.mark.parametrize(("line", "says"), REFUSED, ids=[line[:40] for line, _ in REFUSED])
def test_what_cannot_be_meant_is_refused_in_one_line(show, line, says):
    if says is None:
        assert read_entry(show, line).made.things  # the show's own model, or the next label, settles it
        return
    with pytest.raises(FieldkitError) as error:
        read_entry(show, line)
    assert says in str(error.value)
    assert "\n" not in str(error.value)


WORDS = ["2", "two-way-12", "mains", "left", "each", "ML1-4", "run", "SR-1.A", "15m", "15", "ML9", "amp", "rack", "zone",
         "supply", "stock", "label", "near", "16A", "=", "a=b", '"', "[/x]", "🎸", "שלום", "cable", "panel", "hired"]  # fmt: skip


@given(st.lists(st.sampled_from(WORDS) | st.text(max_size=12), max_size=8).map(" ".join))
@tries(150)
def test_any_line_is_understood_or_refused_in_words(line):
    show = read_any()
    finished(show, line)
    try:
        entry = read_entry(show, line)
    except FieldkitError as error:
        assert str(error).isprintable()
    else:
        assert entry.show != show
        assert entry_text(entry)


def read_any():
    import tomllib

    return decode(tomllib.loads(SHOW))


@pytest.mark.parametrize("name", ["village_hall", "open_air", "school_musical"])
def test_the_line_of_a_thing_adds_it(name):
    show = open_show(SAMPLES / f"{name}.toml").show
    for table in ("zones", "racks", "supplies", "rack_units", "boxes", "runs", "stock"):
        for thing in getattr(show, table):
            index = getattr(show, table).index(thing)
            others = getattr(show, table)
            without = msgspec.structs.replace(show, **{table: (*others[:index], *others[index + 1 :])})
            made = read_entry(without, line_of(without, thing)).made.things[0]
            said = {key for key, value in msgspec.to_builtins(made, enc_hook=str).items() if value}
            assert all(getattr(made, key, None) == getattr(thing, key, None) for key in said - {"from"}), thing
            assert line_of(without, made) == line_of(without, thing)


def test_tab_offers_what_may_come_next(show):
    assert finished(show, "4 two-w")[0] == "two-way-12-inch"
    assert finished(show, "run SR") == ("SR-1.A", "SR-1.B", "SR-1.C", "SR-1.D") or "SR-1.A" in finished(show, "run SR")
    assert finished(show, "run SR-1.A 15m ")[0] == "ML9"
    assert finished(show, "2 two-way-12 zone ") == ("mains",)
    assert finished(show, "amp portable rack ") == ("RIGHT",)
    assert "left" not in finished(show, "run ")
    assert {kind.words[0] for kind in KINDS if kind.words} <= set(finished(show, ""))


def test_each_kind_is_in_the_help_of_the_command(capsys):
    run(["add", "--help"])
    told = capsys.readouterr().out
    assert [kind.words[0] for kind in KINDS if kind.words and kind.words[0] not in told] == []


def test_the_command_adds_line_after_line_and_writes(tmp_path, capsys):
    made = tmp_path / "made.toml"
    hall = str(SAMPLES / "village_hall.toml")
    assert run(["add", hall, "zone foyer", "two-way-8 foyer F1", "-o", str(made), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [entry["added"] for entry in told["entries"]] == [
        [{"table": "zones", "id": "foyer"}],
        [{"table": "boxes", "id": "F1"}],
    ]
    assert [item.id for item in open_show(made).show.boxes][-1] == "F1"


def test_the_command_names_the_line_that_it_cannot_use(capsys):
    hall = str(SAMPLES / "village_hall.toml")
    assert run(["add", hall, "zone foyer", "two-way-8 foyr F1"]) == 2
    assert capsys.readouterr().err.startswith("fieldkit: line 2: 'foyr' is not understood; did you mean 'foyer'?")
