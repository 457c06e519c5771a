"""Outputs without processing of their own: what may share a processor output, and what that costs."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from apps import app_on, press, type_text, until

from fieldkit.checks.checking import check, counts
from fieldkit.planning.fixes.feeding import feedings
from fieldkit.planning.fixes.single_edits import fixes_for
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.signal.sharing import sharing
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.edits import find, with_thing
from fieldkit.show.keep.storage import create
from fieldkit.show.opening import open_show
from fieldkit.show.writing import canonical

MUSICAL = open_show(Path("sample_shows/school_musical.toml")).show


def unpatched(outputs: int):
    """Give the musical with nothing patched between processor and amplifiers, and so many processor outputs.

    Five needs: the round (four sides, one signal), subs, fills, and two mixes of wedges.
    """
    model = find(MUSICAL, "processors", "processor-four-by-eight")
    units = []
    for unit in MUSICAL.rack_units:
        kept = {key: source for key, source in unit.inputs.items() if not source.startswith("DP.")}
        units.append(msgspec.structs.replace(unit, inputs=kept, routes={}))
    boxes = tuple(msgspec.structs.replace(box, input="") for box in MUSICAL.boxes)
    show = with_thing(MUSICAL, "processors", msgspec.structs.replace(model, outputs=outputs))
    return msgspec.structs.replace(show, rack_units=tuple(units), boxes=boxes)


def presets_per_output(show):
    """List what each processor output has to be, from the show alone."""
    rig = evaluate(show)
    found = {}
    for output in rig.outputs:
        if output.loads and "." in output.source:
            found.setdefault(output.source, set()).update(
                (load.speaker.id, load.choice.id, load.box.polarity) for load in output.loads
            )
    return found


def test_enough_outputs_feed_every_need_from_one_of_its_own():
    (way,) = feedings(evaluate(unpatched(8)))
    after = evaluate(way.show)
    assert counts(check(after))["errors"] == 0
    assert {output.host.kind for output in after.outputs if output.loads} == {"processor"}
    assert len(presets_per_output(way.show)) == 5
    for path in signal_paths(after):
        assert set(path.wanted) <= set(path.signals), path  # the routes lead from the right inputs


def test_too_few_share_and_say_what_that_costs():
    show = unpatched(4)
    ways = list(feedings(evaluate(show)))
    assert ways[0].label == "share: A5.1 with A5.2 (Mix 1 and Mix 2 become one signal)"
    rig = evaluate(ways[0].show)
    assert sharing(rig).short == 0
    assert not [item for item in check(rig) if item.rule == "processor-outputs-short"]
    assert {path.to: path.signals for path in signal_paths(rig)}["A5.1"] == ("Mix 1", "Mix 2")


@pytest.mark.parametrize("outputs", [1, 2, 3, 4, 5, 6])
def test_no_way_puts_two_presets_on_one_processor_output(outputs):
    for way in feedings(evaluate(unpatched(outputs))):
        for held in presets_per_output(way.show).values():
            assert len(held) == 1, (way.label, held)


def test_one_more_processor_says_what_it_takes():
    show = unpatched(3)  # two short, and only two needs have a preset in common: sharing alone will not do
    ways = list(feedings(evaluate(show)))
    assert ways
    assert all(way.label.startswith("hire processor-") and "1 rack unit" in way.label for way in ways)
    for way in ways:
        more = [unit for unit in way.show.rack_units if unit.id == "DP1"]
        assert more[0].rack == "R"
        assert sum(entry.hired for entry in way.show.stock if entry.model == more[0].model) >= 1
        assert counts(check(evaluate(way.show)))["errors"] == 0


def test_nothing_is_offered_where_nothing_is_missing():
    assert list(feedings(evaluate(MUSICAL))) == []


def test_what_is_patched_already_stays():
    """The fills are on DP.1 and stay there, though the round comes first in the show."""
    show = unpatched(8)
    fills = find(show, "rack_units", "A4")
    show = with_thing(show, "rack_units", msgspec.structs.replace(fills, inputs={"1": "DP.1"}))
    (way,) = feedings(evaluate(show))
    assert find(way.show, "rack_units", "A4").inputs["1"] == "DP.1"


def test_the_output_of_a_self_powered_box_is_not_given_away():
    show = unpatched(8)
    box = find(show, "boxes", "GR")
    show = with_thing(show, "boxes", msgspec.structs.replace(box, input="DP.2"))
    (way,) = feedings(evaluate(show))
    used = {source for unit in way.show.rack_units for source in unit.inputs.values()}
    assert "DP.2" not in used
    assert {f"DP.{number}" for number in (1, 3, 4, 5, 6)} <= used


def test_the_finding_leads_to_the_ways():
    rig = evaluate(unpatched(4))
    findings = check(rig)
    (item,) = [item for item in findings if item.rule == "processor-outputs-short"]
    labels = [fix.label for fix in fixes_for(rig, findings, item)]
    assert labels[0].startswith("share: A5.1 with A5.2")
    assert any(label.startswith("hire processor-") for label in labels)
    assert all(fix.left[0] == 0 for fix in fixes_for(rig, findings, item))


async def test_feeding_by_keys(tmp_path):
    file = tmp_path / "needs.toml"
    create(file, canonical(unpatched(4)))
    app = app_on(file)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "4", "p")
        await type_text(pilot, "inputs and")
        text = await press(pilot, "enter")
        assert "share: A5.1 with A5.2 (Mix 1 and Mix 2 become one signal)" in text
        await until(pilot, "no more: 1 error, 10 warnings")
        assert not app.session.dirty
        await press(pilot, "enter")
        assert find(app.session.present, "rack_units", "A5").inputs == {"1": "DP.4", "2": "DP.4"}
        await press(pilot, "u")
        assert app.session.present == open_show(file).show
