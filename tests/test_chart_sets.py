"""Sets that fill an amplifier, and what carries a list: against every way to put clusters on channels, tried by hand."""

import msgspec
import pytest
from budget import tries
from chart_checker import HALF, NEAR, Judge
from hypothesis import HealthCheck, assume, given
from hypothesis import strategies as st
from test_chart import DEMONSTRATION, amplifiers, boxes

from fieldkit.commands.cli import run
from fieldkit.planning.chart.carrying import WantedBoxes, carry
from fieldkit.planning.chart.cells import chart
from fieldkit.planning.chart.question import Library, Terms, candidates_of
from fieldkit.planning.chart.sets import sets_of
from fieldkit.planning.chart.trial import try_out

WIDE = {"single": 1, "bridged": 2, "paralleled": 2}


def clusters_by_hand(cells):
    """List what may stand on one place: kind, boxes, channels, slots, watts asked of the supply, share of the rating."""
    found = []
    for cell in cells:
        box = cell.candidate
        judge = Judge(cell.amplifier, cell.mode, box.speaker, box.drive, box.use, ())
        # What is too strong without a limiter is no matter of counting: those numbers are taken from the cell.
        most = cell.per_output if cell.set_by == "preset" else judge.most_on_output()
        for count in (
            count for count in range(1, most + 1) if count not in cell.not_with and not judge.against([count])
        ):
            held = len(judge.pairs) if judge.inside and judge.with_preset else 0
            found.append(
                (box.title, count, WIDE[cell.mode] * len(judge.pairs), held, judge.demand(count), judge.share(count))
            )
    return found


def vectors_by_hand(amplifier, clusters, titles):
    """Try every collection of clusters that the channels bear, and say how many boxes of each kind each has."""
    limit = amplifier.supply_limit.value if amplifier.supply_limit else None
    slots = (amplifier.hosts.slots if amplifier.hosts else None) or 99
    found = set()

    def go(start, channels, held, demand, share, counts):
        sag = 1.0 if limit is None or demand <= limit else limit / demand
        if channels < 0 or held > slots or share * sag < HALF * (1 - NEAR):
            return
        found.add(tuple(counts[title] for title in titles))
        for index in range(start, len(clusters)):
            title, count, wide, slot, watts, own = clusters[index]
            go(
                index,
                channels - wide,
                held + slot,
                demand + watts,
                min(share, own),
                counts | {title: counts[title] + count},
            )

    go(0, amplifier.channels, 0, 0.0, float("inf"), dict.fromkeys(titles, 0))
    return found


def tops(vectors):
    return {a for a in vectors if not any(a != b and all(x <= y for x, y in zip(a, b, strict=True)) for b in vectors)}


def named_box(box, name):
    return msgspec.structs.replace(box, id=name)


@tries(25, *HealthCheck)
@given(amplifier=amplifiers(), one=boxes(), other=boxes())
def test_sets_are_those_of_every_way_tried(amplifier, one, other):
    hosts = amplifier.hosts
    if hosts is not None and "box" in hosts.presets:
        hosts = msgspec.structs.replace(hosts, presets=("one", "other"))
        amplifier = msgspec.structs.replace(amplifier, hosts=hosts)
    library = Library((amplifier,), (named_box(one, "one"), named_box(other, "other")), ())
    cells = chart(library, Terms())
    titles = [candidate.title for candidate in candidates_of(library, Terms())]
    vectors = vectors_by_hand(amplifier, clusters_by_hand(cells), titles)
    mixed = {vector for vector in vectors if all(vector)}
    found = sets_of(cells, Terms(), named=True)
    got = {tuple({box.title: n for box, n in item.boxes}[title] for title in titles) for item in found.sets}
    assert got == tops(mixed)
    assert dict(found.left_out).get("inside another set", 0) == len(mixed) - len(got)
    for item in found.sets:
        assert sum(WIDE[c.place.mode] * len(c.place.candidate.pairs) for c in item.fill.clusters) + item.free == (
            amplifier.channels
        )


@tries(20, *HealthCheck)
@given(amplifier=amplifiers(), one=boxes(), other=boxes(), numbers=st.tuples(st.integers(1, 5), st.integers(1, 4)))
def test_a_list_takes_as_few_of_one_amplifier_as_can_be(amplifier, one, other, numbers):
    library = Library((amplifier,), (named_box(one, "one"), named_box(other, "other")), ())
    cells = chart(library, Terms())
    assume(not any(cell.not_with for cell in cells))  # else a part of a list may be what no output takes
    every = candidates_of(library, Terms())
    titles = [candidate.title for candidate in every]
    one_takes = {tuple(map(min, v, numbers)) for v in vectors_by_hand(amplifier, clusters_by_hand(cells), titles)}
    reached, units = {(0, 0)}, 0
    while numbers not in reached and units < 10:
        sums = {tuple(min(a + b, n) for a, b, n in zip(x, y, numbers, strict=True)) for x in reached for y in one_takes}
        if sums <= reached:
            break
        reached, units = sums, units + 1
    answers = carry([WantedBoxes(box, n) for box, n in zip(every, numbers, strict=True)], library, Terms())
    if numbers not in reached:
        assert answers == ()
        return
    [answer] = answers
    assert len(answer.units) == units
    carried = dict.fromkeys(titles, 0)
    for unit in answer.units:
        for cluster in unit.fill.clusters:
            carried[cluster.place.candidate.title] += cluster.count
        assert unit.trial.refusal() is None
    assert tuple(carried.values()) == numbers


def test_two_kinds_on_a_portable_amplifier(capsys):
    """Own, worked by hand: 4 ohm minimum, so two boxes of 8 ohm an output; bi-amp tops take two outputs."""
    assert run(["chart", "portable-four-hosting", "two-way-12-inch", "sub-single-15-inch", "--json"]) == 0
    answer = msgspec.json.decode(capsys.readouterr().out)
    found = {
        tuple(sorted(item["boxes"].items())): item for item in answer["sets"] if "bi-amp" in item["drives"].values()
    }
    assert set(found) == {(("sub-single-15-inch", 4), ("two-way-12-inch", 2))}
    assert answer["sets"][0]["free"] == 0
    left = {item["rule"]: item["count"] for item in answer["sets_left_out"]}
    assert left["one model in two drives (combinations)"] == 2  # alone, and with the sub


def carried(text, capsys, *more):
    status = run(["chart", "--with", text, "--json", *more])
    return status, msgspec.json.decode(capsys.readouterr().out)


def test_what_carries_a_list(capsys):
    status, answer = carried("2 two-way-12-inch bi-amp, 2 sub-single-15-inch", capsys)
    assert status == 0
    first = answer["answers"][0]
    assert (first["amplifiers"], first["rack_units"]) == ({"portable-four-hosting": 1}, 0)
    assert [row["channels"] for row in first["outputs"]] == ["1", "2", "3"] or first["free_channels"] == 0
    assert {item["use"] for item in answer["with"] if item["box"] == "two-way-12-inch"} == {"with sub"}
    heights = [item["rack_units"] for item in answer["answers"]]
    assert heights == sorted(heights)
    assert {cell["box"] for cell in answer["cells"]} == {"two-way-12-inch", "sub-single-15-inch"}
    plain = next(item for item in answer["answers"] if set(item["amplifiers"]) == {"two-channel-plain"})
    # low, high and sub want a preset each, and no plain amplifier holds one
    assert len(plain["processor_outputs"]) == 3
    assert plain["processors"] == 1


def test_a_stage_box_beside_a_sub_gets_its_presets_for_that(capsys):
    _, answer = carried("1 stage-wedge-12-inch bi-amp, 1 sub-single-15-inch, 2 two-way-12-inch passive", capsys)
    uses = {item["box"]: item["use"] for item in answer["with"]}
    assert uses == {
        "stage-wedge-12-inch": "wedge with sub",
        "sub-single-15-inch": "full range",
        "two-way-12-inch": "with sub",
    }


def test_no_output_under_the_preferred_load_where_that_is_asked(capsys):
    _, answer = carried("8 two-way-8-inch", capsys, "--keep-preferred")
    assert answer["answers"]
    assert all(row["load_ohm"] >= 3.9 for item in answer["answers"] for row in item["outputs"])
    _, without = carried("8 two-way-8-inch", capsys)
    assert any(row["load_ohm"] < 3.9 for item in without["answers"] for row in item["outputs"])


def test_the_list_to_set_by_hand(capsys):
    assert run(["chart", "four-channel-hosting", "--with", "1 sub-double-18-inch, 1 8ohm/300W"]) == 0
    text = capsys.readouterr().out
    assert "1+2 bridged (C pair 1): 1 sub-double-18-inch sub, pair 1" in text
    assert "     sub-any, 8.00 Ω" in text
    # 1200 W through 8 ohm: 98.0 V; bridged 38 dB of gain: 98.0 V are 42.0 dBu, 4.0 at the input.
    assert "limiter 98.0 V slow, +4.0 dBu at the input" in text


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "expected a value"),
        (" , ", "expected a list such as"),
        ("2 two-way", "may be two-way-10-inch, two-way-12-inch, two-way-8-inch"),
        ("2 nothing", "no box 'nothing'"),
        ("0 two-way-8-inch", "expected one box or more"),
        ("99 two-way-8-inch", "at most 4 kinds and 36 boxes, got 1 and 99"),
    ],
)
def test_a_list_that_cannot_be_used(text, says, capsys):
    assert run(["chart", "--with", text]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert says in err


def test_nothing_carries_it(capsys):
    status, answer = carried("1 sub-double-18-inch", capsys, "portable-four-hosting")
    assert (status, answer["answers"]) == (1, [])


def test_every_set_of_the_demonstration_library_stands_before_the_checks():
    cells = [cell for cell in chart(DEMONSTRATION, Terms()) if cell.amplifier.id == "eight-channel-hosting"]
    found = sets_of(
        [c for c in cells if c.candidate.name in ("sub-single-18-inch", "two-way-12-inch")], Terms(), named=True
    )
    assert found.sets
    for item in found.sets:
        trial = try_out(item.amplifier, [c.place for c in item.fill.clusters], Terms(), lambda _: None)
        assert trial.refusal() is None
