"""A rig rebuilt by somebody who has the paper alone: who feeds what, and a processor set; compared with the solver.

The readers here know words and numbers, and nothing of the program.
"""

import itertools
import re

import pytest
from sheet_tools import files, sample

from fieldkit import samples
from fieldkit.rig.signal.account import accounts
from fieldkit.sheets import rack_folder
from fieldkit.sheets.collection import page_keys


@pytest.fixture(scope="module", params=[name for name in samples.names() if name != "mistakes"])
def one(request):
    return sample(request.param)


@pytest.fixture(scope="module")
def written(one):
    return files(one, ["stage", "settings"])


def paragraphs_of_runs(text):
    """Give the lines of each run on a page of the stage, without the lanes at the left."""
    found = {}
    for part in re.split(r"(?m)^(?=\S[^\n]*: \S+ to )", text)[1:]:
        head, _, *rest = part.splitlines()
        found[head.split(":")[0]] = [re.sub(r"^[ |+xO!]*", "", line) for line in rest]
    return found


def fed(lines):
    """Follow the pairs of a run: which section of which box is fed by which output."""
    carries, box = {}, ""
    exchange = {}
    for line in lines:
        if start := re.match(r"pair (\S+) from (\S+?)(?: \(\w+\))?: ", line):
            carries[start[1]] = start[2]
        elif re.match(r"\[", line):
            box = line[1:].split()[0].rstrip("]")
        elif crossed := re.findall(r"pair (\S+) to pair ([^\s,]+)", line):
            exchange = dict(crossed)
            carries = {exchange[pair]: output for pair, output in carries.items() if pair in exchange}
        elif got := re.match(r"([\w-]+) on pair (\S+), preset ", line):
            yield carries[got[2]], box, got[1]


def test_who_feeds_what_is_rebuilt_from_the_pages_of_the_stage(one, written):
    rebuilt = set()
    for name, text in written.items():
        if name.startswith("stage-") and name.endswith(".txt"):
            unwrapped = re.sub(r"\n[ |]{3,} +(?=pair \d+$)", " ", text)
            for lines in paragraphs_of_runs(unwrapped).values():
                rebuilt |= set(fed(lines))
    solved = {
        (output.output.id, item.load.box.id, item.load.section.section)
        for output in one.rig.outputs
        for line in output.lines
        for item in line.boxes
    }
    assert rebuilt == solved


def test_the_folder_of_a_rack_has_its_own_and_nothing_of_another(one, monkeypatch):
    """Each output stands in one folder, with the label of its plug; the rear has that label at that socket."""
    monkeypatch.setattr(rack_folder, "unit_plans", lambda _: ())  # they take seconds, and are not looked at here
    written = files(one, ["rack-folders"])
    places = {place.key: place for place in one.rack_places}
    assert set(places) <= {name.removesuffix(".txt") for name in written}
    told = {}
    sections = dict(re.findall(r'(?s)<section id="([\w-]+)"[^>]*>(.*?)</section>', written["sheets.html"]))
    for key, place in places.items():
        lid, rear = sections[key].split("<figure", 1)
        drawn = re.findall(r"<text[^>]*>([^<]*)</text>", rear)
        for output, plug, socket in re.findall(r"<tr[^>]*><td[^>]*>([^<]*)</td><td[^>]*>(\S+) in ([^<]*)</td>", lid):
            assert output.rpartition(".")[0] in place.units
            assert any(plug in " ".join(cables.split()) for name, cables in itertools.pairwise(drawn) if name == socket)
            told.setdefault(output, set()).add(plug)
    assert set(told) == {output.output.id for output in one.rig.outputs if output.lines}


NUMBER = r"([+-]?[\d.]+)"


def records(text):
    """Read the rows of the settings as they stand in plain text: a host, and below it each heading with its cell."""
    part = text.split("One row an output")[1].split("\nAmplifiers: set")[0]
    part = re.sub(r"\n {4}", " ", part)
    for host, rest in re.findall(r"(?m)^ {2}(?:! )?(\S+\.\S+|\S+)\n((?: {4,}.*\n?)+)", part):
        yield host, f"; {' '.join(rest.split())}"
    for host, rest in re.findall(r"(?m)^ {2}(?:! )?(\S+) (signal .*)$", part):
        yield host, f"; {rest}"


def test_a_host_is_set_from_its_row_alone(one, written):
    """The preset is loaded and what is said to be set is set; gain, delay, polarity, thresholds are then the rig's."""
    found = dict(records(written["settings.txt"]))
    mine = {account.host: account for account in accounts(one.rig)}
    assert set(found) == set(mine)
    for host, row in found.items():

        def read(heading, row=row):
            cell = re.search(rf"; {re.escape(heading)} {NUMBER}(?=;|$)", row)
            return float(cell[1]) if cell else 0.0

        account = mine[host]
        gain = read("preset gain (dB)") + read("set gain on top (dB)")
        delay = read("preset delay (ms)") + read("set delay on top (ms)")
        inverted = ("preset polarity inverted" in row) != ("set polarity turn over" in row)
        assert gain == pytest.approx(account.number("gain in all", "dB"), abs=0.11)
        assert delay == pytest.approx(account.number("delay in all", "ms"), rel=0.006, abs=0.02)
        assert inverted == (account.word("polarity in all") == "inverted")
        assert f"preset {account.preset or 'none'}" in row
        assert " ".join(account.boxes) in row
        for limiter, unit in (("slow limiter", "dBu"), ("fast limiter", "dBu"), ("fast limiter", "V peak")):
            order = account.number(limiter, unit)
            said = re.search(rf"; {limiter} set {NUMBER} {unit}", row)
            if order is not None and account.entry(limiter).unit == unit and said:
                assert float(said[1]) == pytest.approx(order, rel=0.006, abs=0.06)
            else:
                assert said is None


def test_every_box_stands_with_one_hand_and_every_unit_in_one_folder(one):
    boxes = [box.id for side in one.stage_sides for box in side.boxes]
    units = [unit for place in one.rack_places for unit in place.units]
    assert sorted(boxes) == sorted(box.id for box in one.show.boxes)
    assert sorted(units) == sorted(one.rig.show_index.units)
    assert len(set(page_keys(one))) == len(page_keys(one))
