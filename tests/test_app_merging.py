"""Somebody else saved the show that is open: both are made one by keys, in one step, and what collides is asked."""

import pytest
from apps import app_on, press
from shows import FERRY, with_change

from fieldkit.app.addresses import Address, with_value
from fieldkit.app.terminal.capabilities import Terminal
from fieldkit.show.keep.storage import load

SIZE = (80, 24)
THEIRS = with_change('name = "Ferry landing, Sunday"', 'name = "Ferry landing, Monday"').replace(
    'note = "grille dented [see tag]"', 'note = "grille new" # their remark'
)


@pytest.fixture
def ferry(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    return path


def edit(app, name, field, value):
    address = Address("boxes", name) if name else Address("show", "")
    app.bench.apply(f"{field} of {name}", lambda: with_value(app.session.present, address, field, value))


@pytest.mark.parametrize("colour", [True, False])
async def test_what_both_did_is_made_one(ferry, colour):
    app = app_on(ferry, Terminal(remote=False, colour=colour, ascii_only=not colour))
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        edit(app, "", "site", "Pier")
        edit(app, "ML2", "level", "-3 dB")
        ferry.write_text(THEIRS, encoding="utf-8")
        text = await press(pilot, "ctrl+s")
        assert "2 of theirs, 2 of mine; nothing collides" in text
        text = await press(pilot, "enter")
        for line in (
            "box ML2: level nothing",
            "site nothing",
            "note grille dented [see tag]",
            "nothing is left to decide",
        ):
            assert line in text
        await press(pilot, "enter")
        show = load(ferry).show
        assert (show.about.name, show.about.site) == ("Ferry landing, Monday", "Pier")
        assert (show.boxes[1].level, show.boxes[1].note) == ("-3 dB", "grille new")
        assert not app.session.dirty
        await press(pilot, "u")  # one step
        assert (app.session.present.about.site, app.session.present.about.name) == ("Pier", "Ferry landing, Sunday")


async def test_what_collides_is_asked_first_and_single_changes_are_left(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        edit(app, "ML2", "note", "grille fixed")
        edit(app, "", "site", "Pier")
        ferry.write_text(THEIRS, encoding="utf-8")
        text = await press(pilot, "ctrl+s", "enter")
        assert "to decide  box ML2 note: was grille dented [see tag]" in text
        assert "theirs:  grille new" in text
        text = await press(pilot, "end", "enter")
        assert "! 1 still to decide" in text
        text = await press(pilot, "right")
        assert "theirs  box ML2 note" in text
        rows = app.screen.query_one("Rows")
        rows.move_to("theirs\0show\0name")
        text = await press(pilot, "left")
        assert "mine    not: the show: name Ferry landing, Sunday → Ferry" in text
        await press(pilot, "right", "left", "enter")
        show = load(ferry).show
        assert (show.about.name, show.about.site) == ("Ferry landing, Sunday", "Pier")
        assert show.boxes[1].note == "grille new"
        assert "# their remark" in ferry.read_text(encoding="utf-8")


async def test_leaving_the_window_changes_nothing(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        edit(app, "ML2", "note", "grille fixed")
        ferry.write_text(THEIRS, encoding="utf-8")
        mine = app.session.present
        await press(pilot, "ctrl+s", "enter", "greater_than_sign", "escape")
        assert app.session.present is mine
        assert app.session.dirty
    assert ferry.read_text(encoding="utf-8") == THEIRS
