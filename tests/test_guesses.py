"""What was guessed stays a guess until somebody says it, and boxes that share a cable are judged as they move."""

import msgspec
import pytest
from checked_shows import changed_in
from rigs import AMP, MODELS, box, rig_of, run, show_of, step
from sheet_tools import files
from test_checks import quiet, tripped
from test_checks_chain import OPEN_AIR, found, put

from fieldkit.reports.cards import card
from fieldkit.reports.chain import zone_lines
from fieldkit.reports.objects import lines_object
from fieldkit.reports.text import lines_text
from fieldkit.rig.signal.delays import delays_by_side, zone_delays
from fieldkit.rig.signal.processing import delay_parts
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.sheets.material import material_of
from fieldkit.text.style import Style

# ---- delays ----------------------------------------------------------------------------------------------------------


def timed(**values):
    zone = next(zone for zone in OPEN_AIR.zones if zone.id == "delay")
    bare = {"reference_distance": None, "own_distance": None, "listeners": None, "delay": None, "precedence": None}
    assert zone.timed_to
    return put(OPEN_AIR, "zones", zone.id, **bare | values)


# 343.2 m/s at 20 °C (ISO 9613-1 annex A): 20 m are 58.28 ms.
def test_a_delay_from_a_reference_distance_alone_is_not_a_figure_to_set():
    show = msgspec.structs.replace(
        timed(reference_distance="20 m"), about=msgspec.structs.replace(OPEN_AIR.about, temperature=None)
    )
    rig = evaluate(show)
    delays = [item for item in zone_delays(rig) if item.zone == "delay"]
    start = {item.delay_s for item in zone_delays(rig) if item.zone == delays[0].reference}
    assert {round(1e3 * (item.guess_s - min(start)), 2) for item in delays} == {58.28}
    assert {item.delay_s for item in delays} == start
    [item] = found(show, "timing-lacks-distance")
    assert item.severity == "warning"
    assert "guess" in item.says
    assert "own_distance" in item.fix
    told = "\n".join(zone_lines(tuple(delays), 20.0))
    assert "guessed, not to be set" in told
    load = next(load for output in rig.outputs for load in output.loads if load.box.zone == "delay")
    assert sum(value for _, value in delay_parts(load, delays_by_side(rig), None)) < 0.05


def test_a_distance_that_somebody_says_settles_it():
    show = timed(reference_distance="20 m", own_distance="0 m")
    assert not found(show, "timing-lacks-distance")
    assert all(item.guess_s is None for item in zone_delays(evaluate(show)))


# ---- what zone it is -------------------------------------------------------------------------------------------------

ONE = AMP + box("B1") + run("W", "A.A", step("two", "1 m", "B1"))


@pytest.mark.parametrize(
    ("name", "model", "trips"),
    [
        ("mains", "top", False),
        ("mains", "stage-wedge-12", True),
        ("mains", "monitor-15", True),
        ("drum-fill", "top", True),
        ("Wedges", "top", True),
        ("drumfill", "top", True),
        ("mon-left", "top", True),
        ("monday", "top", False),
        ("edges", "top", False),
    ],
)
def test_a_stage_box_in_a_zone_that_nobody_called_one(name, model, trips):
    text = ONE.replace('"mains"', f'"{name}"').replace('"top"', f'"{model}"')
    models = MODELS.replace('"mains"', f'"{name}"').replace('"top"', f'"{model}"')
    if not trips:
        quiet("use-not-said", text, models)
        return
    item = tripped("use-not-said", text, models, where=("zone", name), severity="warning")
    assert "out front" in item.says
    for use in ("wedge", "front"):  # either word settles it
        quiet("use-not-said", text, models.replace(f'id = "{name}"\n', f'id = "{name}"\nuse = "{use}"\n'))


def test_a_model_that_has_presets_for_wedges_only():
    models = MODELS.replace('"full range"], limiter', '"wedge"], limiter').replace(
        '"with sub"], limiter', '"wedge"], limiter'
    )
    only_wedges = models.replace('uses = ["any"], low_pass', 'uses = ["wedge"], low_pass').replace(
        'uses = ["full range", "with sub"]', 'uses = ["wedge"]'
    )
    tripped("use-not-said", ONE, only_wedges, where=("zone", "mains"), severity="warning")
    quiet("use-not-said", ONE, models)


def test_guesses_are_said_until_somebody_says_them():
    def told(models, more=""):
        rig = rig_of(AMP + box("B1", more=more) + run("W", "A.A", step("two", "1 m", "B1")), models)
        return " ".join([*card(rig, (), "box", "B1", Style()), *card(rig, (), "zone", "mains", Style())])

    guessed = told(MODELS)
    assert "passive (guessed)" in guessed
    assert "used full range (guessed)" in guessed
    assert "out front (guessed)" in guessed
    half = told(changed_in(MODELS, 'id = "mains"\n', 'id = "mains"\nuse = "wedge"\n'))
    assert "used wedge (low end guessed)" in half  # that it is a wedge, the show says
    said = changed_in(MODELS, 'id = "mains"\n', 'id = "mains"\nuse = "front"\nlow_end_from = []\n')
    assert "guessed" not in told(said, 'drive = "passive"')


# ---- damping ---------------------------------------------------------------------------------------------------------

EIGHT = MODELS.replace('section = "sub", impedance = "4 ohm"', 'section = "sub", impedance = "8 ohm"')


def subs(count, lead, link="2 m"):
    names = [f"S{number}" for number in range(count)]
    steps = [step("two", link if number else lead, name) for number, name in enumerate(names)]
    return AMP + "".join(box(name, "subs", "sub") for name in names) + run("W", "A.A", *steps)


def test_boxes_that_share_a_cable_are_damped_together():
    # Own, worked by hand: 2 · 7.98 mohm a metre (IEC 60228 table 3), 10 m and two links of 2 m, output 10 mohm, 8 ohm.
    # The last alone: 8 / (0.01 + 0.15960 + 0.03192 + 0.03192) = 34.27. Together the first lead carries three boxes, the
    # next two, the last one: 8 / (3 · 0.16960 + 2 · 0.03192 + 0.03192) = 13.23.
    rig = rig_of(subs(3, "10 m"), EIGHT)
    last = lines_object(rig)["lines"][0]["boxes"][2]
    assert last["damping_factor"] == pytest.approx(34.27, abs=5e-3)
    assert last["damping_together"] == pytest.approx(13.23, abs=5e-3)
    assert "34.3 alone, 13.2 with all on its cable" in " ".join("\n".join(lines_text(rig, Style())).split())
    item = tripped("damping-low", subs(3, "10 m"), EIGHT, where=("line", "W/1"), severity="note")
    assert "13.2 at S2 while all on its cable move with it, 34.3 by itself" in item.says
    assert "a run of its own" in item.fix


def test_damping_of_one_box_is_the_same_both_ways():
    box_alone = lines_object(rig_of(subs(1, "10 m"), EIGHT))["lines"][0]["boxes"][0]
    assert box_alone["damping_together"] == pytest.approx(box_alone["damping_factor"], rel=1e-9)
    # Own: three boxes are 20 together where 3 · (0.01 + 0.01596 L) = 0.4 - 0.09576, L = 5.73 m.
    tripped("damping-low", subs(3, "5.8 m"), EIGHT, where=("line", "W/1"), severity="note")
    quiet("damping-low", subs(3, "5.6 m"), EIGHT)


# The preset of a sub, or one that is named by hand, is right whatever the use; that of a top hangs on it.
@pytest.mark.parametrize(
    ("zone", "by_hand", "guessed"),
    [
        ("low_end_from = []", "", True),
        ('use = "front"', "", True),
        ('use = "front"\nlow_end_from = []', "", False),
        ("low_end_from = []", 'presets = { full = "p-full-range" }\n', False),
    ],
)
def test_a_preset_that_hangs_on_a_guess_says_so_on_the_settings_page(zone, by_hand, guessed):
    text = ONE.replace('id = "B1"\n', f'id = "B1"\n{by_hand}')
    show = show_of(text, MODELS.replace('id = "mains"\n', f'id = "mains"\n{zone}\n'))
    page = files(material_of(show, None), ["settings"])["settings.txt"]
    assert (
        "this preset is guessed until the show says the use and the low end of the zone" in " ".join(page.split())
    ) is guessed
