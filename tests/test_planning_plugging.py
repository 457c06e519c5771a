"""Mains for the amplifiers that a plan brings, against all ways tried and against sums done here."""

import itertools
import json

import msgspec
import pytest
from budget import thoroughly
from planned_shows import amplifier
from test_planning_assign import alike, small
from test_planning_assign import with_failed as failed

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.planning.assign.judging import Wishes
from fieldkit.planning.assign.plan import assign
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.opening import open_show
from fieldkit.show.references import problems
from fieldkit.show.writing import canonical


def supply(name, *more, rating="16 A"):
    return "\n".join([f'[[supplies]]\nid = "{name}"', 'volts = "230 V"', f'rating = "{rating}"', *more, ""])


def circuits(*phases, rating="16 A"):
    return "".join(supply(f"C{n}", f"phase = {phase}", rating=rating) for n, phase in enumerate(phases, 1))


def placed(proposal):
    return {unit.id: unit.supply for unit in proposal.show.rack_units}


def draws(proposal):
    return {draw.id: draw for draw in supplies_of(evaluate(proposal.show)).draws}


@pytest.mark.parametrize("boxes", [3, 10, 20, 30])
def test_new_amplifiers_are_shared_over_the_phases_as_the_best_of_all_ways(boxes):
    proposal = assign(small(alike(boxes), {"four": 4, "two": 2}, circuits(1, 2, 3)))
    amps = [draw.current_a for draw in draws(proposal).values()]
    # Every way to put them on three circuits is tried; what a unit takes does not depend on where it hangs.
    best = min(
        max(sum(amp for amp, at in zip(amps, way, strict=True) if at == phase) for phase in range(3))
        for way in itertools.product(range(3), repeat=len(amps))
    )
    assert max(supplies_of(evaluate(proposal.show)).totals) == pytest.approx(best, abs=0.003)
    assert {plug.unit for plug in proposal.plugs} == set(placed(proposal))
    assert not [item for item in proposal.short if "supply" in item.says]
    assert list(problems(proposal.show)) == []
    assert any(note.startswith("mains at the duty") and "C1 carries" in note for note in proposal.notes)


def test_what_no_supply_carries_is_said_and_left_unplugged():
    proposal = assign(small(alike(30), {"four": 8}, circuits(1, 2, 3, rating="5 A")))
    heavy = {name for name, draw in draws(proposal).items() if draw.apparent_va / 230.0 > 5.0}
    assert heavy
    assert {name for name, at in placed(proposal).items() if at is None} == heavy
    assert {item.what for item in proposal.short} == heavy
    assert all(" A at the duty" in item.says and "another circuit" in item.says for item in proposal.short)
    assert proposal.holds  # every box has its output, and nothing is plugged where it must not be


@pytest.mark.parametrize(("rules", "fits"), [("iec", True), ("nfpa", False)])
def test_a_circuit_may_carry_80_percent_where_nfpa_70_rules(rules, fits):
    # Own, worked by hand: the limit of 210.20(A) is 80 % of the rating, so what takes 90 % of it is too much.
    show = small(alike(3), {"four": 1})
    amps = next(iter(draws(assign(show)).values())).apparent_va / 230.0
    text = f'[show]\nelectrical_rules = "{rules}"\n'
    more = small(alike(3), {"four": 1}, supply("C", rating=f"{amps / 0.9:.3f} A") + text)
    assert set(placed(assign(more)).values()) == {"C" if fits else None}


def test_the_supply_above_is_not_overloaded_for_a_circuit_with_room():
    head = supply("HEAD", rating="1 A")
    show = small(alike(9), {"four": 2}, head + supply("C", 'fed_from = "HEAD"', rating="32 A"))
    proposal = assign(show)
    assert set(placed(proposal).values()) == {None}
    free = assign(small(alike(9), {"four": 2}, head.replace("1 A", "63 A") + supply("C", 'fed_from = "HEAD"')))
    assert set(placed(free).values()) == {"C"}  # and not on the head, which feeds a distribution


def test_a_three_phase_outlet_gets_a_line_for_each_and_what_is_lost_feeds_nothing():
    show = small(alike(30), {"four": 3}, supply("T", "phases = 3", rating="32 A"))
    assert sorted((plug.supply, plug.phase) for plug in assign(show).plugs) == [("T", 1), ("T", 2), ("T", 3)]
    without = assign(failed(show, "T"))
    assert without.plugs == ()
    assert len(without.short) == 3


def test_what_was_plugged_by_hand_stays_and_is_counted():
    there = '[[rack_units]]\nid = "OWN"\nmodel = "four"\nsupply = "C1"\n'
    loose = '[[rack_units]]\nid = "LOOSE"\nmodel = "four"\n'
    proposal = assign(small(alike(30), {"four": 4}, circuits(1, 2, 3) + there + loose))
    at = placed(proposal)
    assert at["OWN"] == "C1"
    assert at["LOOSE"] is None  # it stands there already: the balance of the Supply screen may plug it
    assert {plug.unit for plug in proposal.plugs} == set(at) - {"OWN", "LOOSE"}
    assert any("LOOSE" in note and "on no supply" in note for note in proposal.notes)


def test_the_units_of_a_new_rack_as_built_share_a_supply_where_one_carries_them():
    text = '[[built_racks]]\nid = "pair"\nunits = 4\ncontents = [{ model = "four" }, { model = "four" }]\n'
    text += 'panel = { A = { 1 = "1.1", 2 = "1.2" }, B = { 1 = "1.3" }, C = { 1 = "2.1", 2 = "2.2" } }\n'
    text += '[[stock]]\nmodel = "pair"\nowned = 1\n'
    one = assign(small(alike(9), {"two": 0}, text + amplifier("four") + circuits(1, 2, 3)))
    at = placed(one)
    assert len(at) == 2
    assert len(set(at.values())) == 1
    most = max(draw.current_a for draw in draws(one).values())
    rating = f"{1.1 * most:.2f} A"
    apart = assign(small(alike(9), {"two": 0}, text + amplifier("four") + circuits(1, 2, rating=rating)))
    assert sorted(placed(apart).values()) == ["C1", "C2"]


def test_without_supplies_nothing_is_said_of_mains():
    proposal = assign(small(alike(3), {"four": 1}))
    assert proposal.plugs == ()
    assert not any("mains" in note or "supply" in note for note in proposal.notes)


@pytest.mark.parametrize("name", thoroughly("school_musical", more=["open_air"]))
def test_a_sample_without_its_racks_is_planned_with_mains_and_no_supply_is_overloaded(name):
    show = open_show(samples.folder() / f"{name}.toml").show
    bare = msgspec.structs.replace(
        show,
        runs=(),
        readings=(),
        racks=(),
        rack_units=(),
        log=(),
        zones=tuple(msgspec.structs.replace(zone, served_by=()) for zone in show.zones),
    )
    proposal = assign(bare, Wishes())
    assert proposal.moves
    assert not [item for item in proposal.findings if item.rule == "supply-over-rating"]


def test_amplifiers_that_no_stock_list_names_are_to_be_found(tmp_path, capsys):
    show = msgspec.structs.replace(small(alike(3), {"four": 1}), stock=())
    proposal = assign(show)
    assert [(item.what, item.count) for item in proposal.to_find] == [("four", 1)]
    assert proposal.short == ()
    path = tmp_path / "bare.toml"
    path.write_text(canonical(show), encoding="utf-8")
    assert run(["assign", str(path)]) == 0
    assert "to hire or find: 1 × four, no stock list names it" in capsys.readouterr().out
    assert run(["assign", str(path), "--json"]) == 0
    report = json.loads(capsys.readouterr().out)
    assert [item["what"] for item in report["to_find"]] == ["four"]
    assert report["short"] == []
