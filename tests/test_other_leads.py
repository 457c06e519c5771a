"""A lead that is not in the truck: what else could be laid, what it would lose, and what to hire."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec
import pytest
from apps import app_on, press

from fieldkit.checks.checking import check
from fieldkit.planning.fixes.single_edits import fixes_for
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.document import Stock
from fieldkit.show.edits import find, with_thing
from fieldkit.show.keep.storage import create
from fieldkit.show.opening import open_show
from fieldkit.show.writing import canonical
from fieldkit.units import Area, Length

MUSICAL = open_show(Path("sample_shows/school_musical.toml")).show


def short_of(model: str, length: str, count: int):
    """Give the musical with fewer leads of one kind in stock."""
    stock = [
        msgspec.structs.replace(item, owned=item.owned - count)
        if (item.model, item.length) == (model, length)
        else item
        for item in MUSICAL.stock
    ]
    return msgspec.structs.replace(MUSICAL, stock=tuple(stock))


def with_lead(show, cores: int, area: str, length: str, owned: int = 1, **more):
    like = find(show, "cables", "four-core-2.5")
    cable = msgspec.structs.replace(like, id="other", cores=cores, area=Area(area), **more)
    stock = (*show.stock, Stock(model="other", length=Length(length), owned=owned))
    return msgspec.structs.replace(with_thing(show, "cables", cable), stock=stock)


def cures_of(show):
    rig = evaluate(show)
    findings = check(rig)
    (item,) = [item for item in findings if item.rule == "cables-missing"]
    return {fix.label: fix.show for fix in fixes_for(rig, findings, item)}


def test_a_thinner_longer_one_stands_in_and_loses_what_the_table_says():
    fixes = cures_of(with_lead(short_of("four-core-2.5", "15 m", 1), 4, "1.5 mm²", "30 m"))
    show = fixes["lay W5 in 30 m other in place of 15 m four-core-2.5"]
    load = next(
        item for output in evaluate(show).outputs for line in output.lines for item in line.boxes
        if item.load.box.id == "SUBW"
    )  # fmt: skip
    # IEC 60228 class 5, 1.5 mm²: 13.3 ohm/km at 20 °C; 60 m of it into 8 ohm, at 21 °C (0.39 % a kelvin).
    loop_ohm = 0.0133 * 60 * (1 + 0.00393)
    assert load.loss_db == pytest.approx(20 * math.log10(1 + loop_ohm / 8), abs=0.002)


def test_what_is_missing_can_be_hired():
    fixes = cures_of(short_of("four-core-2.5", "15 m", 2))
    show = fixes["hire 2 × 15 m of four-core-2.5"]
    assert [item.hired for item in show.stock if item.model == "four-core-2.5"] == [2]


@pytest.mark.parametrize(
    "unfit",
    [
        {"cores": 2, "area": "2.5 mm²", "length": "30 m"},
        {"cores": 4, "area": "4 mm²", "length": "14 m"},
        {"cores": 4, "area": "4 mm²", "length": "30 m", "connectors": ("2-pole", "2-pole")},
        {"cores": 4, "area": "4 mm²", "length": "30 m", "owned": 0},
    ],
)
def test_what_does_not_reach_or_fit_is_not_offered(unfit):
    assert list(cures_of(with_lead(short_of("four-core-2.5", "15 m", 1), **unfit))) == [
        "hire 1 × 15 m of four-core-2.5"
    ]


def test_two_missing_leads_are_taken_together():
    fixes = cures_of(with_lead(short_of("four-core-2.5", "15 m", 2), 4, "4 mm²", "20 m", owned=2))
    label = "lay W5 in 20 m other in place of 15 m four-core-2.5, W6 in 20 m other in place of 15 m four-core-2.5"
    assert not [item for item in check(evaluate(fixes[label])) if item.severity == "error"]


async def test_the_finding_shows_what_the_thin_one_would_lose(tmp_path):
    file = tmp_path / "short.toml"
    create(file, canonical(with_lead(short_of("four-core-2.5", "15 m", 1), 4, "1.5 mm²", "30 m")))
    app = app_on(file)
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "enter")
        assert "→ lay W5 in 30 m other in place of 15 m four-core-2.5" in text
        assert "SUBW loses 0.26 → 0.83 dB" in text
