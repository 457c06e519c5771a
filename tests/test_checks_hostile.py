"""Rigs as nobody should plan them: never an exception, sensible findings, and the same ones whatever was kept."""

import math
import re

import msgspec
import pytest
from budget import tries
from checked_shows import BIAMP, DSP, TODAY, findings
from hypothesis import assume, given
from hypothesis import strategies as st
from rigs import AMP, MODELS, PLAIN, RACK, box, rig_of, run, show_of, step

from fieldkit.checks.checking import check
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.solve.evaluation import Evaluator, evaluate
from fieldkit.show.document import Show
from fieldkit.show.references import problems

ODD = MODELS + (
    '[[adaptors]]\nid = "crossing"\npins = { 1 = "2", 2 = "1" }\nresistance = "8 mohm"\ncurrent = "9 A"\n'
    '[[adaptors]]\nid = "second-to-first"\npins = { 2 = "1" }\n'
    '[[panels]]\nid = "split"\nsockets = { S1 = { 1 = "1" }, S2 = { 2 = "1" } }\n'
    '[[loudspeakers]]\nid = "active"\nsections = [{ drive = "self-powered", section = "full" }]\n'
    '[[loudspeakers]]\nid = "twin"\nconnectors = 1\nsections = [\n'
    '    { drive = "passive", section = "sub", pair = 1, impedance = "4 ohm", continuous = "800 W", vented = true },\n'
    '    { drive = "passive", section = "sub", pair = 2, impedance = "4 ohm", continuous = "800 W", vented = true },\n]\n'
)
UNKNOWN = '[[boxes]]\nid = "U"\nzone = "mains"\nunknown = { impedance = "3 ohm", continuous = "20 W" }\n'
SPLIT = '{ panel = "split", socket = "S1", box = "B1" }'


def names(text, models=ODD):
    return {item.rule for item in findings(text, models)}


# ---- one oddity at a time --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", set()),
        ('[[zones]]\nid = "empty"\n', set()),
        (AMP + DSP, set()),
        (box("B1"), {"box-unfed"}),
        (AMP + '[[runs]]\nid = "W"\nfrom = "A.A"\npath = []\n', set()),
        (AMP + '[[runs]]\nid = "W"\nfrom = "A.A"\npath = []\nfeeds = { 1 = "A.1" }\n', {"pair-feeds-nothing"}),
        (AMP + box("B1") + run("W", "A.A", step("two", "0 m", "B1")), set()),
        (AMP + box("B1") + run("W", "A.A", step("two", "10 km", "B1")), {"cable-loss", "output-too-weak"}),
        (AMP + box("B1") + run("W", "A.A", step("gauge-twelve", "1000 ft", "B1")), {"cable-loss"}),
        (AMP + box("B1") + run("W", "A.A", SPLIT), set()),
        (AMP + box("B1", more=BIAMP) + run("W", "A.A", SPLIT), {"pins-do-not-meet", "section-unfed"}),
        (AMP + box("B1") + run("W", "A.A", '{ adaptor = "crossing" }', step("four", "5 m", "B1")), set()),
        (AMP + box("B1") + run("W", "A.A", step("two", "5 m", "B1"), step("two", "5 m", "B1")), {"fed-twice"}),
        (AMP + box("B1", model="active") + run("W", "A.A", step("two", "5 m", "B1")), {"self-powered-on-a-line"}),
        (AMP + UNKNOWN + run("W", "A.A", step("two", "5 m", "U")), {"no-limiter", "figures-assumed"}),
        (AMP + 'bridged = ["3+4"]\n' + UNKNOWN + run("W", "A.B", step("two", "5 m", "U")), {"load-under-minimum"}),
        (RACK + UNKNOWN + run("W", "SR.P2", step("two", "5 m", "U")), {"load-under-minimum"}),
        (AMP + box("T", "subs", "twin") + run("W", "A.A", step("four", "5 m", "T")), {"sub-without-high-pass"}),
    ],
)
def test_an_odd_rig_is_named_for_what_it_is(text, expected):
    assert expected <= names(text)


def test_everything_on_one_output():
    text = AMP + "".join(box(f"B{n}", more=BIAMP) for n in range(3)) + box("S", "subs", "sub") + UNKNOWN
    every = ["B0", "B1", "B2", "S", "U"]
    for number, name in enumerate(every):
        text += run(f"W{number}", "A.A", step("four", "10 m", name), more='feeds = { 1 = "A.1", 2 = "A.1" }')
    found = findings(text, ODD)
    on_it = {item.rule for item in found if item.where.id == "A.1"}
    assert {"load-under-minimum", "high-on-wrong-band", "preset-has-no-host"} <= on_it
    load = next(item for item in found if item.rule == "load-under-minimum")
    # own, worked by hand: 3/8 + 3/16 + 1/4 + 1/3 S are 1.1458 S
    assert load.numbers["load_ohm"] == pytest.approx(1.0 / 1.14583, rel=1e-4)


def test_what_people_type_is_data():
    typed = "[bold]{0} %s\u202eמרחב 🎛 " + "x" * 10_000
    side = f"side = {msgspec.json.encode(typed).decode()}\n"
    text = AMP + PLAIN + box("B1", more=side) + box("B2", more='side = "right"')
    text += run("W1", "A.A", step("two", "5 m", "B1")) + run("W2", "A.B", step("two", "5 m", "B2"))
    [item] = [item for item in findings(text) if item.rule == "both-sides-on-one-amplifier"]
    assert typed in item.says


# ---- rigs by chance --------------------------------------------------------------------------------------------------

CABLES = [
    step(cable, length) for cable in ("two", "four", "gauge-twelve") for length in ("0 m", "12 m", "80 ft", "10 km")
]
JOINTS = [
    '{ adaptor = "crossing" }',
    '{ adaptor = "second-to-first" }',
    '{ panel = "split", socket = "S2", shared = "P" }',
]
NAMES = [f"B{number}" for number in range(4)]


@st.composite
def boxes(draw, name):
    model = draw(st.sampled_from(["top", "top", "top", "sub", "twin", "active", None]))
    zone = draw(st.sampled_from(["mains", "subs", "mon"]))
    side = draw(st.sampled_from(["", 'side = "left"', 'side = "right"']))
    if model is None:
        ohm = draw(st.sampled_from(["2 ohm", "8 ohm", "60 ohm"]))
        unknown = f'unknown = {{ impedance = "{ohm}", continuous = "150 W" }}'
        return f'[[boxes]]\nid = "{name}"\nzone = "{zone}"\n{unknown}\n{side}\n'
    more = []
    if model == "top":
        more.append(draw(st.sampled_from(["", BIAMP, BIAMP, 'drive = "passive"'])))
        more.append(draw(st.sampled_from(["", "", 'switch = "passive"', 'switch = "bi-amp"'])))
        more.append(
            draw(st.sampled_from(["", "", 'presets = { high = "low" }', 'presets = { low = "high", full = "p-sub" }']))
        )
    return box(name, zone, model, "\n".join([side, *more]))


@st.composite
def paths(draw):
    steps = []
    for _ in range(draw(st.integers(0, 3))):
        steps += [draw(st.sampled_from(JOINTS))] if draw(st.integers(0, 3)) == 0 else []
        here = draw(st.sampled_from(CABLES))
        at = draw(st.sampled_from([*NAMES, None]))
        steps.append(f'{here.removesuffix("}")}, box = "{at}" }}' if at else here)
    return steps


@st.composite
def shows(draw):
    text = "".join(draw(boxes(name)) for name in NAMES)
    modes = draw(st.sampled_from(["", 'bridged = ["3+4"]', 'bridged = ["1+2", "3+4"]', 'paralleled = ["1+2"]']))
    inputs = draw(
        st.sampled_from(["", 'inputs = { 1 = "D.1", 2 = "=1", 3 = "D.3" }', 'inputs = { 1 = "L", 2 = "D.2" }'])
    )
    text += f"{AMP}{modes}\n{inputs}\n{PLAIN}{DSP}"
    for number in range(draw(st.integers(0, 4))):
        start = draw(st.sampled_from(["A.A", "A.B", "A.C", "P.A", "P.B"]))
        feeds = draw(
            st.sampled_from(
                [
                    "",
                    "",
                    'feeds = { 1 = "A.1", 2 = "A.2" }',
                    'feeds = { 1 = "A.2", 2 = "A.1" }',
                    'feeds = { 2 = "P.1" }',
                ]
            )
        )
        text += run(f"W{number}", start, *draw(paths()), more=feeds)
    for model in draw(st.lists(st.sampled_from(["top", "sub", "quad", "crossing"]), max_size=2)):
        text += f'[[stock]]\nmodel = "{model}"\nowned = {draw(st.integers(0, 3))}\nhired = 1\ndue = 2026-06-{draw(st.integers(18, 22))}\n'
    return show_of(text, ODD)


PLACES = {
    "box": lambda rig: {item.id for item in rig.show.boxes},
    "zone": lambda rig: {item.id for item in rig.show.zones},
    "run": lambda rig: {item.id for item in rig.show.runs},
    "line": lambda rig: {item.id for item in rig.lines},
    "output": lambda rig: {item.output.id for item in rig.outputs},
    "unit": lambda rig: set(rig.show_index.units),
    "model": lambda rig: set(rig.show_index.models),
    "host": lambda rig: {item.host.id for item in rig.outputs if item.host},
}


@given(shows())
@tries(40)
def test_any_rig_gives_findings_that_can_be_shown_and_agree_with_ones_own(show):
    """One rig for three judges, since it takes longest to draw."""
    rig = evaluate(show)
    findings = check(rig, TODAY)
    can_be_shown_and_jumped_to(rig, findings)
    found = {(item.rule, item.where.id) for item in findings}
    loads_and_bands_agree(rig, found)
    every_section_is_fed_or_missed(rig, found)


def can_be_shown_and_jumped_to(rig, findings):
    for item in findings:
        assert item.where.id in PLACES[item.where.kind](rig), item
        assert re.fullmatch(r"[a-z]+(-[a-z]+)+", item.rule)
        for text in (item.says, item.why, item.fix):
            assert text
            assert text == text.strip()
            assert not re.search(r"None|\d\.\d{5}|\bnan\b|\binf\b|  ", text), text
        assert all(math.isfinite(value) for value in item.numbers.values()), item
        msgspec.json.encode(item)


def loads_and_bands_agree(rig, found):
    """Hold what is found against a sum of one's own."""
    for output in rig.outputs:
        name, bands = output.output.id, {load.section.section for load in output.loads}
        siemens = sum(1.0 / load.impedance_ohm for load in output.loads)
        under = siemens * output.output.minimum_ohm * 0.98 > 1.0
        assert (("load-under-minimum", name) in found) == under
        assert (("high-on-wrong-band", name) in found) == ("high" in bands and len(bands) > 1)


def every_section_is_fed_or_missed(rig, found):
    fed = {(load.box.id, load.section.pair) for output in rig.outputs for load in output.loads}
    for item in rig.show.boxes:
        speaker = rig.show_index.speakers[item.id]
        drive = planned_drive(item, speaker)
        pairs = {section.pair for section in speaker.sections_in(drive)}
        missing = pairs - {pair for name, pair in fed if name == item.id}
        expected = {"box-unfed"} if missing == pairs else {"section-unfed"} if missing else set()
        expected = set() if drive == "self-powered" else expected
        assert {rule for rule, name in found if name == item.id and rule.endswith("-unfed")} == expected


@given(st.lists(shows(), min_size=2, max_size=4), st.data())
@tries(12)
def test_what_was_kept_from_other_rigs_changes_nothing(several, data):
    """Mixed tables of several shows, one after the other, are what a sudden undo or a fail-over looks like."""
    evaluator = Evaluator()
    seen = 0
    for show in (*several, several[0]):
        other = data.draw(st.sampled_from(several))
        table = data.draw(st.sampled_from(["boxes", "stock", "runs"]))
        mixed = msgspec.structs.replace(show, **{table: getattr(other, table)})
        if list(problems(mixed)):
            continue
        fresh = evaluate(mixed)
        kept = evaluator.evaluate(mixed)
        assert kept.amplifiers == fresh.amplifiers
        assert kept.lines == fresh.lines
        assert check(kept, TODAY) == check(fresh, TODAY)
        seen += 1
    assume(seen)


def test_the_order_of_tables_changes_no_finding():
    text = AMP + box("B1", more=BIAMP) + box("S", "subs", "sub") + UNKNOWN
    text += run("W1", "A.A", step("two", "60 m", "B1")) + run(
        "W2", "A.B", step("two", "5 m", "S"), step("two", "5 m", "U")
    )
    show = rig_of(text, ODD).show
    turned = msgspec.structs.replace(show, boxes=show.boxes[::-1], runs=show.runs[::-1], zones=show.zones[::-1])
    assert isinstance(turned, Show)

    def key(item):
        return item.rule, item.where.kind, item.where.id, item.severity

    assert sorted(map(key, check(evaluate(turned), TODAY))) == sorted(map(key, check(evaluate(show), TODAY)))
