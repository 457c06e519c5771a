"""A model's own page: tables read back by their columns, presets against what a rig would choose, gaps that are seen."""

import re

import pytest

from fieldkit.commands.cli import run
from fieldkit.gear import library
from fieldkit.gear.loudspeaker import USES, Loudspeaker
from fieldkit.gear.model_file import parse
from fieldkit.gear.wording import to_plain
from fieldkit.reports.model_page import model_page
from fieldkit.rig.connect.presets import preset_rows
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.decoding import decode

MODELS = {entry.model.id: entry.model for entry in library.every() if not entry.own}
SPEAKERS = [model for model in MODELS.values() if isinstance(model, Loudspeaker)]


def rows_under(lines, head):
    """Give the rows of the table whose head begins with some words, as lists of cells."""
    at = next(index for index, line in enumerate(lines) if re.split(r"\s{2,}", line.strip())[: len(head)] == head)
    rows = []
    for line in lines[at + 1 :]:
        if not line.startswith("  "):
            break
        rows.append(re.split(r"\s{2,}", line.strip()))
    return rows


def page(name):
    return model_page(MODELS[name], MODELS.values())


def test_the_page_of_a_box_says_ohms_watts_volts():
    lines = page("two-way-12-inch")
    assert max(map(len, lines)) <= 80
    sections = rows_under(lines, ["drive", "section", "pair"])
    assert sections[2] == ["bi-amp", "high", "2", "16 ohm", "-", "55 W", "550 W", "109 dB", "1300 Hz - ?"]
    volts = rows_under(lines, ["drive", "section", "volts"])
    # 340 W through 8 ohm are 52.2 V; 1700 W of peak are 116.6 V (V²/Z, Ohm).
    assert volts[0][:4] == ["passive", "full", "52.2 V", "117 V"]
    assert any(line.startswith("hosted by eight-channel-hosting, four-channel-hosting") for line in lines)


def test_presets_stand_once_and_gaps_are_seen():
    lines = page("stage-wedge-12-inch")
    rows = rows_under(lines, ["drive", "section", "for"])
    assert ["bi-amp", "low", "full range, with sub", "no preset: a gap"] in rows
    high = next(row for row in rows if row[:3] == ["bi-amp", "high", "wedge, wedge with sub"])
    assert high[3].startswith("high-wedge: high-pass 1400 Hz")
    assert sum("high-wedge:" in line for line in lines) == 1


@pytest.mark.parametrize("speaker", SPEAKERS, ids=lambda model: model.id)
def test_the_table_of_presets_is_what_a_rig_chooses(speaker):
    """Each drive × section × use stands once in the table, with the preset that a box in such a zone gets."""
    rows = preset_rows(speaker)
    for drive in speaker.drives():
        for use in USES:
            zone = {
                "id": "Z",
                "use": "wedge" if "wedge" in use else "front",
                "low_end_from": ["Z"] if "sub" in use else [],
            }
            show = decode(
                {
                    "format": 1,
                    "loudspeakers": [to_plain(speaker)],
                    "cables": [{"id": "lead", "cores": 16, "area": "4 mm²"}],
                    "amplifiers": [{"id": "amp", "channels": 8, "powers": [{"load": "2 ohm", "power": "1 kW"}]}],
                    "rack_units": [{"id": "A", "model": "amp"}],
                    "zones": [zone],
                    "boxes": [{"id": "B", "model": speaker.id, "zone": "Z", "drive": drive}],
                    "runs": [
                        {
                            "id": "W",
                            "from": "A.X",
                            "feeds": {str(n): f"A.{n}" for n in range(1, 5)},
                            "path": [{"cable": "lead", "length": "1 m", "box": "B"}],
                        }
                    ],
                }
            )
            for line in evaluate(show).lines:
                for load in line.loads:
                    its = [
                        row
                        for row in rows
                        if (row.drive, row.section.section) == (drive, load.section.section) and use in row.uses
                    ]
                    assert [row.preset for row in its] == [load.choice.preset]


def test_the_page_of_an_amplifier():
    lines = page("four-channel-hosting")
    powers = rows_under(lines, ["mode", "load", "watts"])
    # 3400 W into 4 ohm bridged: 117 V, 29.2 A (Ohm).
    assert powers[4] == ["bridged pair", "4 ohm", "3400 W", "117 V", "29.2 A", "minimum"]
    at = lines.index("connectors")
    assert re.split(r"\s{2,}", lines[at + 2].strip()) == ["A", "pair 1 is 1, pair 2 is 2", "-"]
    assert re.split(r"\s{2,}", lines[at + 4].strip()) == ["C", "-", "pair 1 is 1+2"]
    text = re.sub(r"\s+", " ", " ".join(lines))
    assert "bridged 38.0 dB of gain" in text  # 32 dB and twice the volts
    assert "nothing says that channels of 'four-channel-hosting' may be paralleled" in text


def test_a_pair_that_is_allowed_without_a_rating_has_a_minimum():
    model = parse(
        "[amplifier]\nid = 'a'\nchannels = 2\nbridgeable = true\nparallelable = true\n"
        "powers = [{ load = '4 ohm', power = '500 W' }]"
    )
    text = " ".join(model_page(model, ()))
    # Each channel of a bridged pair sees half of the load, of a paralleled one twice: 4 ohm become 8, and 2.
    assert "bridged pairs are allowed, down to 8 Ω" in text
    assert "paralleled pairs are allowed, down to 2 Ω" in text
    blank = parse("[amplifier]\nid = 'a'\nchannels = 2\nbridgeable = true\npowers = []")
    assert "allowed, down to a minimum that the model does not say" in " ".join(model_page(blank, ()))


def test_one_match_is_a_page_and_several_are_a_list(capsys):
    assert run(["models", "sub-double"]) == 0
    assert capsys.readouterr().out.startswith("sub-double-18-inch: Vented sub")
    assert run(["models", "sub"]) == 0
    assert capsys.readouterr().out.count("\nloudspeaker  ") == 3
    assert run(["models", "two-core-2.5"]) == 0  # the id of one, and a part of another's
    assert capsys.readouterr().out.startswith("two-core-2.5: Loudspeaker lead, pair 1 only\n2 cores of 2.5 mm²")


@pytest.mark.parametrize("name", MODELS)
def test_every_page_fits_eighty_columns(name):
    lines = page(name)
    assert lines[0].startswith(name)
    assert max(map(len, lines)) <= 80
