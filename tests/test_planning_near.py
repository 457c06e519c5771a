"""Nearness is asked: a link between two zones that nobody called near is avoided, and never laid in silence."""

import pytest
from plan_checker import faults
from planned_shows import CABLES, SPEAKERS, amplifier, box, read, stock

from fieldkit.planning.assign.plan import assign
from fieldkit.show.references import problems
from fieldkit.show.usage import renamed

# One plug carries both channels; what is on the second one is reached behind the first, by a crossing.
MODEL = amplifier("four").replace(', B = { 1 = "2" }', "").replace(', D = { 1 = "4" }', "")
MODEL = MODEL.replace("connectors_bridged", "#")


def show(near, zones=("drums", "drum-sub", "vox"), amplifiers=1):
    text = SPEAKERS + CABLES + MODEL + stock("four", amplifiers) + stock("crossing", 4)
    for zone in zones:
        text += f'[[zones]]\nid = "{zone}"\ndistance = "15 m"\n{near.get(zone, "")}\n'
        text += box(f"B-{zone}", "sub" if "sub" in zone else "top", zone)
    return read(text)


def linked(proposal):
    return [frozenset(step.box for step in run.path if step.box) for run in proposal.show.runs if len(run.path) > 2]


@pytest.mark.parametrize("near", [{"drums": 'near = ["drum-sub"]'}, {"drum-sub": 'near = ["drums"]'}])
def test_what_is_near_shares_a_run_and_nothing_is_assumed(near):
    there = show(near)
    proposal = assign(there)
    assert faults(there, proposal.show) == []
    assert linked(proposal) == [frozenset(("B-drums", "B-drum-sub"))]
    assert not any("near" in note for note in proposal.notes)
    [link] = [step for run in proposal.show.runs for step in run.path[1:] if step.length]
    assert link.length == "2 m"


def test_equally_far_from_the_rack_is_not_near_and_a_link_that_must_be_is_said():
    proposal = assign(show({}))
    assert not proposal.undriven
    [note] = [note for note in proposal.notes if "near" in note]
    assert "nobody said that zones" in note
    assert "is assumed" in note
    [link] = [step for run in proposal.show.runs for step in run.path[1:] if step.length]
    assert link.length == "5 m"


def test_with_a_place_for_each_no_link_is_laid_between_zones_that_nobody_called_near():
    proposal = assign(show({}, zones=("drums", "vox")))
    assert linked(proposal) == []
    assert not any("near" in note for note in proposal.notes)


def test_near_names_zones_and_follows_their_labels():
    there = show({"drums": 'near = ["drum-sub"]'})
    assert list(problems(there)) == []
    zone = next(zone for zone in renamed(there, "zones", "drum-sub", "low").zones if zone.id == "drums")
    assert zone.near == ("low",)
    with pytest.raises(AssertionError):
        show({"drums": 'near = ["nowhere"]'})


def test_the_lead_that_is_there_goes_to_the_box_and_the_short_link_is_what_is_missing():
    """Own, by hand: of 15 m and 2 m one lead of 15 m is there; it loses too much either way, so 2 m are to be found."""
    one_plug = amplifier("two").replace(', B = { 1 = "2" }', "").replace("connectors_bridged", "#")
    text = SPEAKERS + CABLES + one_plug + stock("two", 1) + stock("crossing", 2) + stock("four-core", 1, "15 m")
    text += '[[zones]]\nid = "hall"\nloss_limit = "0.01 dB"\n' + box("TOP", "top", "hall") + box("SUB", "sub", "hall")
    proposal = assign(read(text))
    [run] = proposal.show.runs
    assert [str(step.length) for step in run.path if step.length] == ["15 m", "2 m"]
    [short] = proposal.short
    assert short.says == "hire or borrow 1 × 2 m of four-core"
