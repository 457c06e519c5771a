"""The application, by real keys and by what the screen says."""

import tomllib

import pytest
from apps import LOCAL, PressedApp, app_on, press, screen_text, type_text
from shows import FERRY, with_change

from fieldkit import samples
from fieldkit.app.actions import function_key
from fieldkit.app.dialogs.windows import Dialog
from fieldkit.app.menu import entries_for
from fieldkit.app.own_choices import usable_keys
from fieldkit.app.screens import SCREENS
from fieldkit.app.tasks.saving import tell_of_others
from fieldkit.checks.checking import counts
from fieldkit.show.edits import changed, with_thing
from fieldkit.show.keep import claims, recovery
from fieldkit.show.keep.storage import load

SIZE = (80, 24)


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "gear"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


@pytest.fixture
def open_air(tmp_path):
    path = tmp_path / "open_air.toml"
    path.write_bytes((samples.folder() / "open_air.toml").read_bytes())
    return path


@pytest.fixture
def ferry(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    return path


async def test_the_first_screen_says_what_is_wrong_and_opens_no_window(open_air):
    app = app_on(open_air)
    async with app.run_test(size=SIZE) as pilot:
        text = await press(pilot)
        assert "Meadow by the river, Saturday" in text
        assert "[1 Overview]" in text
        assert "front-fill" in text
        assert text.splitlines()[-1].endswith("? all keys")
        assert not isinstance(app.screen, Dialog)


async def test_every_screen_is_there_with_its_keys(open_air):
    app = app_on(open_air)
    async with app.run_test(size=SIZE) as pilot:
        for key, mode, name in SCREENS:
            text = await press(pilot, function_key(key))
            assert app.current_mode == mode
            assert f"[{key} {name}]" in text
            for action in app.frame.ACTIONS:
                if action.shown and action.key != "enter":
                    assert hasattr(app.frame, f"action_{action.name}")
            text = await press(pilot, function_key(key))
            assert f"[{key} {name}]" in text


async def test_the_patch_is_worst_first():
    app = app_on(samples.folder() / "mistakes.toml")
    async with app.run_test(size=SIZE) as pilot:
        text = await press(pilot, "4")
        lines = text.splitlines()[3:]
        rows = lines[: next(place for place, line in enumerate(lines) if line.startswith("──"))]
        groups = []  # an amplifier with its rows; the worst sign of each
        for row in rows:
            if row[:2].strip() and row[:2].strip() not in {"!!", "!", "·"}:
                groups.append(["!!", "!", "·", ""][-1])
            elif row[:2].strip():
                groups[-1] = min(groups[-1], row[:2].strip(), key=["!!", "!", "·", ""].index)
        assert rows[0].startswith("BAR ")
        assert groups[0] == "!!"
        assert groups == sorted(groups, key=["!!", "!", "·", ""].index)


async def test_a_wedge_for_mix_3_takes_six_keys_and_shows_the_load(open_air):
    app = app_on(open_air)
    async with app.run_test(size=SIZE) as pilot:
        text = await press(pilot, "3", "a", "x", "minus", "3")
        assert "wedges mix-3" in text
        text = await press(pilot, "enter")
        assert "8.25 Ω before" in text
        assert "after; minimum" in text
        await press(pilot, "enter")
        assert "M4" not in [box.id for box in app.session.present.boxes if box.side == "mix-3"][:1]
        added = [box for box in app.session.present.boxes if box.side == "mix-3"]
        assert len(added) == 2
        assert app.session.dirty
        text = await press(pilot, "u")
        assert "undone: box" in text
        assert not app.session.dirty


async def test_break_a_plan_read_why_mend_it_and_save(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        before = {(item.rule, item.where.id) for item in app.session.findings}
        await press(pilot, "3")
        app.screen.query_one("Rows").move_to("boxes ML1")
        await press(pilot, "enter", "down", "down", "down", "down", "down", "enter")
        text = screen_text(app)
        assert "drive" in text
        await type_text(pilot, "pass")
        await press(pilot, "enter", "escape")
        assert app.session.present.boxes[0].drive == "passive"
        assert {(item.rule, item.where.id) for item in app.session.findings} - before
        text = await press(pilot, "f")
        assert "findings, worst first" in text
        assert "warning  SR-1.1    full and low" in text
        await press(pilot, "escape", "u")
        assert {(item.rule, item.where.id) for item in app.session.findings} == before
        await press(pilot, "ctrl+s")
    assert ferry.read_text(encoding="utf-8") == FERRY


async def test_a_length_keeps_its_feet_and_a_mass_is_refused_in_place(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "enter", "enter")  # the run of the first line
        rows = app.screen.query_one("Rows")
        rows.move_to("path")
        await press(pilot, "enter", "enter")
        app.screen.query_one("Rows").move_to("length")
        await press(pilot, "enter")
        text = await type_text(pilot, "66 kg")
        assert "expected a length (m, mm, ft, in)" in text
        await press(pilot, "enter")
        assert app.session.present.runs[0].path[0].length == "20 m"
        text = await type_text(pilot, "82 ft")
        assert "= 82 ft" in text
        await press(pilot, "enter", "escape", "escape", "escape", "ctrl+s")
    assert load(ferry).show.runs[0].path[0].length == "82 ft"
    assert 'length = "82 ft"' in ferry.read_text(encoding="utf-8")


async def test_a_label_is_found_by_part_of_it(open_air):
    app = app_on(open_air)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "g")
        text = await type_text(pilot, "sl1")
        text = await press(pilot, "enter") if "go to a label" in text else text
        assert "SL1: box" in text
        assert "pins 1+/1-" in text
        assert "meter into its input" in text


async def test_numbers_explain_themselves_step_by_step(open_air):
    app = app_on(open_air)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4")
        app.screen.query_one("Rows").move_to("W1/1")
        text = await press(pilot, "e")
        assert "load of the output = 4.164 Ω" in text
        text = await press(pilot, "enter")
        assert "Z = Z₁ + Z₂" in text
        await press(pilot, "enter")
        assert "the loop resistance" in screen_text(app) or "length" in screen_text(app)


async def test_the_palette_has_every_action(open_air):
    app = app_on(open_air)
    async with app.run_test(size=SIZE) as pilot:
        for key, _, _ in SCREENS:
            await press(pilot, function_key(key))
            listed = {entry.name for entry in entries_for(app.frame)}
            for action in app.frame.ACTIONS:
                assert action.name in listed
        text = await press(pilot, "ctrl+p")
        assert f"what can be done: {SCREENS[-1][2]}" in text
        text = await type_text(pilot, "undo")
        assert "Take back the last change" in text


def _down_to(text, part):
    """Give the presses that lead from the first line of a window down to the one with this text."""
    lines = text.splitlines()
    first = next(place for place, line in enumerate(lines) if line.startswith(" →"))
    return ["down"] * (next(place for place, line in enumerate(lines) if part in line) - first)


async def test_a_finding_is_cured_by_one_edit():
    app = app_on(samples.folder() / "mistakes.toml")
    async with app.run_test(size=SIZE) as pilot:
        before = counts(app.session.findings)["warnings"]
        await press(pilot, "f")
        await type_text(pilot, "knob")
        text = await press(pilot, "enter")
        assert "→ the knobs of LOW are locked or covered   (then 9 errors" in text
        text = await press(pilot, "enter")
        left = counts(app.session.findings)["warnings"]
        assert left < before
        assert f"9 errors  {left} warnings" in text
        assert next(unit for unit in app.session.present.rack_units if unit.id == "LOW").attenuators_locked
        assert f"9 errors  {before} warnings" in await press(pilot, "u")


async def test_a_finding_leads_to_its_cause():
    app = app_on(samples.folder() / "mistakes.toml")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        text = await press(pilot, "enter")
        assert "→ edit amplifier or processor BAR" in text
        assert "fix:" in text
        await press(pilot, *_down_to(text, "→ edit"), "enter")
        assert "portable-four-hosting" in screen_text(app)
        await press(pilot, "escape", "f")
        await type_text(pilot, "W-A")
        assert "→ edit" in await press(pilot, "enter")
        await press(pilot, "escape", "ctrl+p")
        assert "loudspeakers" in await type_text(pilot, "old-vented")


async def removed_and_killed(ferry):
    """Take ML2 out, and end without saving."""
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "3")
        app.screen.query_one("Rows").move_to("boxes ML2")
        await press(pilot, "d", "enter")
        app.keep_work()
        app.session.close()
    assert ferry.read_text(encoding="utf-8") == FERRY
    assert len(recovery.kept_for(ferry)) == 1


async def test_unsaved_work_is_kept_and_offered(ferry):
    await removed_and_killed(ferry)
    again = app_on(ferry)
    async with again.run_test(size=SIZE) as pilot:
        text = await press(pilot)
        assert "unsaved work of an earlier time" in text
        text = await press(pilot, "r")
        assert "box ML2 removed" in text
        await press(pilot, "enter")
        assert [box.id for box in again.session.present.boxes] == ["ML1"]
        await press(pilot, "ctrl+s")
        again.session.close()
    assert recovery.kept_for(ferry) == ()
    assert [box.id for box in load(ferry).show.boxes] == ["ML1"]


async def test_unsaved_work_is_merged_with_what_was_saved_since(ferry):
    await removed_and_killed(ferry)
    ferry.write_text(with_change("Ferry landing, Sunday", "Ferry landing, Monday"), encoding="utf-8")
    again = app_on(ferry)
    async with again.run_test(size=SIZE) as pilot:
        text = await press(pilot, "r")
        assert "in the show since then: 1 change" in text
        await press(pilot, "enter")
        await press(pilot, "ctrl+s")
        again.session.close()
    assert [box.id for box in load(ferry).show.boxes] == ["ML1"]
    assert "Ferry landing, Monday" in ferry.read_text(encoding="utf-8")


async def test_what_collides_with_unsaved_work_is_asked(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        show = app.session.present
        edited = with_thing(show, "boxes", changed(show.boxes[1], note="from unsaved work"))
        app.bench.apply("note", lambda: edited)
        app.keep_work()
        app.session.close()
    ferry.write_text(with_change("grille dented", "grille fixed"), encoding="utf-8")
    again = app_on(ferry)
    async with again.run_test(size=SIZE) as pilot:
        await press(pilot, "r", "enter")
        text = await press(pilot)
        assert "both changed it" in text
        assert "grille fixed" in text
        await press(pilot, "escape")
        assert len(recovery.kept_for(ferry)) == 1
        await press(pilot, "r", "enter", "left", "enter")
        assert again.session.present.boxes[1].note == "from unsaved work"
        again.session.close()


async def test_unsaved_work_of_a_show_that_is_gone_becomes_a_file(ferry, monkeypatch):
    monkeypatch.chdir(ferry.parent)
    await removed_and_killed(ferry)
    ferry.unlink()
    app = app_on(None)
    async with app.run_test(size=SIZE) as pilot:
        assert "unsaved" in await press(pilot)
        assert "ferry.toml is gone" in await press(pilot, "enter")
        await press(pilot, "enter", "enter")
        assert [box.id for box in app.session.present.boxes] == ["ML1"]
        app.session.close()
    assert [box.id for box in load(ferry).show.boxes] == ["ML1"]
    assert recovery.all_kept() == ()


async def test_a_reader_follows_the_writer_and_takes_over(ferry):
    """Two applications in one program: each has its own claim, as two programs have."""
    from fieldkit.show.opening import open_show

    writer, reader = (PressedApp(open_show(ferry), LOCAL, claims.claim(ferry)) for _ in range(2))
    async with writer.run_test(size=SIZE) as one, reader.run_test(size=SIZE) as other:
        assert "read only" in await press(other)
        await press(one, "3")
        writer.screen.query_one("Rows").move_to("boxes ML2")
        await press(one, "d", "enter", "ctrl+s")
        tell_of_others(reader.bench, "file", "")  # as its thread says within two seconds
        assert "box ML2 removed" in await press(other)
        assert [box.id for box in reader.session.present.boxes] == ["ML1"]
        assert "take this show over" in await press(other, "ctrl+t")
        await press(other, "enter")
        assert not reader.session.read_only
        await press(one, "c")
        assert "took this show over" in await press(one, "ctrl+s")
        assert writer.session.read_only
        reader.session.close()
        writer.session.close()
    assert [box.id for box in load(ferry).show.boxes] == ["ML1"]
    assert not claims.claim_file(ferry).exists()


async def test_a_file_changed_by_somebody_else_is_noticed(ferry):
    app = app_on(ferry)
    theirs = with_change("grille dented", "grille fixed")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "3")
        app.screen.query_one("Rows").move_to("boxes ML1")
        await press(pilot, "c")
        ferry.write_text(theirs, encoding="utf-8")
        text = await press(pilot, "ctrl+s")
        assert "somebody else has saved this file" in text
        await press(pilot, "down", "down", "enter")
        assert "MR1" not in [box.id for box in app.session.present.boxes]
    assert ferry.read_text(encoding="utf-8") == theirs
    assert [box.id for box in load(ferry.with_name("ferry.toml.copies") / "mine-0001.toml").show.boxes] == [
        "ML1",
        "ML2",
        "MR1",
    ]


async def test_leaving_asks_only_when_something_is_not_saved(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "3")
        app.screen.query_one("Rows").move_to("boxes ML1")
        text = await press(pilot, "c", "q")
        assert "something is not saved" in text
        await press(pilot, "escape")
        assert "something is not saved" in await press(pilot, "ctrl+q")
        await press(pilot, "escape", "u", "q")
        assert app._exit


async def test_a_sample_opens_as_a_copy(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    app = app_on(None)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        app.screen.query_one("Rows").move_to("sample village_hall")
        text = await press(pilot, "enter")
        assert "name of your copy" in text
        await press(pilot, "enter")
        assert "Village hall" in screen_text(app)
    assert (tmp_path / "village_hall.toml").read_bytes() == (samples.folder() / "village_hall.toml").read_bytes()


TYPED = ("[bold]x[/bold]", "Amp [/A]", 'say "hi"', "🎪 tent", "مرحبا", "\x1b[31mred")


@pytest.mark.parametrize("texts", [TYPED[:3], TYPED[3:], ("x" * 3000,)], ids=["marks", "letters", "long"])
async def test_what_people_type_is_data(tmp_path, texts):
    """On every screen, in an editor, and in the name of the show, where three have room beside each other."""
    path = tmp_path / "odd.toml"
    quoted = "".join(f"\\U{ord(mark):08x}" for mark in "  ".join(texts))
    odd = (
        with_change("grille dented [see tag]", quoted)
        .replace("Ferry landing, Sunday", quoted)
        .replace('left = "L"', f'left = "{quoted}"')
    )
    path.write_text(odd, encoding="utf-8")
    app = app_on(path)
    async with app.run_test(size=SIZE) as pilot:
        for key, _, _ in SCREENS:
            shown = await press(pilot, function_key(key))
            assert "\x1b" not in shown
        await press(pilot, "f3")
        app.screen.query_one("Rows").move_to("boxes ML2")
        assert "\x1b" not in await press(pilot, "enter")
        await press(pilot, "escape")
        assert "[1 Overview]" in (await press(pilot, "1")).splitlines()[1]  # whatever the name, it is one line
        await pilot.resize_terminal(200, 30)
        shown = await press(pilot)
        for text in texts:
            assert text[:20].replace("\x1b", "\\x1b") in shown


async def test_the_calculator_keeps_a_tape():
    app = app_on(samples.folder() / "village_hall.toml")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "6", "enter")
        text = await type_text(pilot, "sqrt(500 W * 8 ohm)")
        assert "= 63.2456 V" in text
        text = await press(pilot, "enter")
        assert "63.2456 V" in text
        await press(pilot, "enter")
        assert "= 1.22765 V" in await type_text(pilot, "4 dBu in V")
        await press(pilot, "escape", "a")
        await type_text(pilot, "limiter_voltage")
        text = await press(pilot, "enter")
        assert "limiter_voltage" in text


async def test_from_nothing_to_a_plan_by_keys_alone(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    app = app_on(None)
    async with app.run_test(size=SIZE) as pilot:
        text = await press(pilot)
        assert "no show is open" in text
        assert "village_hall" in text
        await press(pilot, "a")
        await type_text(pilot, "hall.toml")
        await press(pilot, "enter")
        assert "no zones yet" in screen_text(app)
        await press(pilot, "3", "a", "enter")  # a zone
        await type_text(pilot, "hall")
        await press(pilot, "enter")
        for label in ("TL", "TR"):
            await press(pilot, "a")
            await type_text(pilot, "new box")
            await press(pilot, "enter")
            await type_text(pilot, label)
            await press(pilot, "enter")
            await type_text(pilot, "two-way-10")
            await press(pilot, "enter", "enter", "enter")
        assert [(box.id, box.side) for box in app.session.present.boxes] == [("TL", "left"), ("TR", "right")]
        await press(pilot, "4", "a")
        await type_text(pilot, "amplifier")
        await press(pilot, "enter")
        await type_text(pilot, "AMP")
        await press(pilot, "enter")
        await type_text(pilot, "portable")
        await press(pilot, "enter")
        for label, connector, box in (("W1", "AMP.A", "TL"), ("W2", "AMP.B", "TR")):
            await press(pilot, "a", "enter")
            await type_text(pilot, label)
            await press(pilot, "enter")
            await type_text(pilot, connector)
            await press(pilot, "enter")
            await type_text(pilot, box)
            await press(pilot, "enter")
            await type_text(pilot, "two-core-2.5")
            await press(pilot, "enter")
            await type_text(pilot, "15 m")
            await press(pilot, "enter")
        text = screen_text(app)
        assert [row.split()[:2] for row in text.splitlines() if "/1" in row] == [[".1", "W1/1"], [".3", "W2/1"]]
        await press(pilot, "ctrl+s")
    show = load(tmp_path / "hall.toml").show
    assert [run.id for run in show.runs] == ["W1", "W2"]
    assert {model.id for model in show.loudspeakers} == {"two-way-10-inch"}
    assert {model.id for model in show.amplifiers} == {"portable-four-hosting"}


async def test_an_unknown_box_goes_in_by_ohms_and_watts(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "2", "a", "down", "enter", "enter")
        await type_text(pilot, "8 ohm, 250 W")
        await press(pilot, "enter", "enter")
        assert app.session.present.boxes[-1].unknown.continuous == "250 W"
        assert "assumed" in await press(pilot, "3")


async def test_below_80_by_24_it_says_so_and_goes_on(ferry):
    app = app_on(ferry)
    async with app.run_test(size=(60, 20)) as pilot:
        assert "80×24" in await press(pilot)
        await pilot.resize_terminal(100, 30)
        assert "Ferry landing" in await press(pilot)
        await pilot.resize_terminal(300, 100)
        assert "[4 Racks]" in await press(pilot, "4")


async def test_one_field_of_several_boxes_is_one_step(open_air):
    app = app_on(open_air)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "3")
        rows = app.screen.query_one("Rows")
        rows.move_to("boxes FL1")
        await press(pilot, "m", "m")
        assert rows.marked == {"boxes FL1", "boxes FL2"}
        assert "*" in screen_text(app)
        await press(pilot, "enter")
        await type_text(pilot, "note")
        await press(pilot, "enter")
        text = await type_text(pilot, "new grille")
        assert "for FL1, FL2" in text
        await press(pilot, "enter")
        notes = {box.id: box.note for box in app.session.present.boxes}
        assert (notes["FL1"], notes["FL2"], notes["FR1"]) == ("new grille", "new grille", "")
        await press(pilot, "u")
        assert not app.session.dirty


async def test_several_boxes_are_copied_and_removed_as_one_step(open_air):
    app = app_on(open_air)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "3")
        app.screen.query_one("Rows").move_to("boxes FL1")
        before = {box.id for box in app.session.present.boxes}
        await press(pilot, "m", "m", "c")
        assert len(app.session.present.boxes) == len(before) + 2
        await press(pilot, "u")
        assert not app.session.dirty
        app.screen.query_one("Rows").move_to("boxes FL1")
        text = await press(pilot, "m", "m", "d")
        assert "remove FL1, FL2" in text
        assert "run" in text
        await press(pilot, "enter")
        assert before - {box.id for box in app.session.present.boxes} == {"FL1", "FL2"}
        await press(pilot, "u")
        assert not app.session.dirty


async def test_a_run_is_moved_to_another_connector_from_a_list(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        app_rows = await press(pilot, "4", "enter")
        assert "run" in app_rows
        await press(pilot, "enter")
        app.screen.query_one("Rows").move_to("from")
        text = await press(pilot, "enter")
        assert "SR-1.B" in text
        await type_text(pilot, "SR-1.B")
        await press(pilot, "enter")
        assert app.session.present.runs[0].start == "SR-1.B"


async def test_a_resize_in_the_middle_of_a_form_loses_nothing(ferry):
    app = app_on(ferry)
    async with app.run_test(size=(140, 40)) as pilot:
        await press(pilot, "3", "enter", "end", "enter")
        await type_text(pilot, "half a sentence")
        for size in ((80, 24), (60, 15), (300, 100), (80, 24)):
            await pilot.resize_terminal(*size)
            assert "half a sentence" in await press(pilot)
        await press(pilot, "enter")
        assert "half a sentence" in str(app.session.present)


async def test_rack_faces_stand_beside_the_patch_where_there_is_room(open_air):
    app = app_on(open_air)
    async with app.run_test(size=(160, 40)) as pilot:
        text = await press(pilot, "4")
        assert "LEFT  rack-main-side  8 units" in text
        assert "LEFT-1  four-channel-hosting" in text
        await pilot.resize_terminal(80, 24)
        assert "rack-main-side" not in await press(pilot)


async def test_a_field_calculates(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "1", "end", "enter")
        app.screen.query_one("Rows").move_to("preferred_load")
        await press(pilot, "enter")
        assert "= 4 ohm" in await type_text(pilot, "=parallel(8 ohm, 8 ohm) in ohm")
        await press(pilot, "enter")
        assert app.session.present.about.preferred_load == "4 ohm"


async def test_a_users_own_keys(ferry, tmp_path):
    (tmp_path / "config").mkdir()
    (tmp_path / "config" / "keys.toml").write_text('"everywhere.findings" = "y"\n', encoding="utf-8")
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        assert "findings, worst first" in await press(pilot, "y")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('"racks.wy" = "y"', "keys.toml: 'racks.wy' is no action; did you mean 'racks.why'?"),
        ('"racks.why" = "contrl+y"', "'contrl+y' of racks.why is no key: expected one such as y, f9 or ctrl+y"),
        ('"racks.why" = ""', "'' of racks.why is no key"),
        ('"racks.why" = "t"', "t of racks.why is the key of everywhere.triage too"),
        ('"racks.why" = "?,f11"', ""),
        ('"racks.why" = "z"', ""),
        ('"everywhere.findings" = "f11"\n"racks.why" = "f"', ""),
    ],
)
def test_own_keys_that_cannot_be_used_are_said(line, says):
    usable, problem = usable_keys(tomllib.loads(line))
    assert problem.startswith("keys.toml: ") == bool(says)
    assert says in problem
    assert "racks.wy" not in usable


async def test_an_own_key_that_is_no_action_is_said_at_the_start(ferry, tmp_path):
    (tmp_path / "config").mkdir()
    (tmp_path / "config" / "keys.toml").write_text('"racks.wy" = "z"\n"everywhere.findings" = "y"\n', encoding="utf-8")
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        assert "! keys.toml: 'racks.wy' is no action; did you mean 'racks.why'?" in await press(pilot)
        assert "findings, worst first" in await press(pilot, "y")


async def test_an_empty_plan_is_called_empty_and_not_sound(tmp_path):
    path = tmp_path / "empty.toml"
    path.write_text('format = 2\n\n[show]\nname = "New show"\n', encoding="utf-8")
    app = app_on(path)
    async with app.run_test(size=SIZE) as pilot:
        text = await press(pilot, "f")
        assert "nothing to say against" not in text
        assert "nothing is planned yet" in text


async def test_a_card_leads_to_what_is_edited():
    app = app_on(samples.folder() / "school_musical.toml")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "g")
        text = await type_text(pilot, "DP.3")
        text = await press(pilot, "enter") if "DP.3: processor output" not in text else text
        assert "DP.3: processor output" in await press(pilot, "enter")  # on a fact, enter leads nowhere
        assert "→ edit amplifier or processor DP" in await press(pilot, "end")
        text = await press(pilot, "enter")
        assert "routes" in text
        assert "already used" not in await press(pilot, "enter")  # its own label is no clash


async def test_a_whole_label_needs_no_enter_though_others_speak_of_it():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "t", "M", "L")
        assert "something is wrong with" in screen_text(app)  # ML1 and ML2 both begin like this
        assert "what does ML2 do?" in await press(pilot, "2")
        assert "next, " in await press(pilot, "v")
        await press(pilot, "f1", "g", "W")
        text = await press(pilot, "1")
        assert "go to a label" in text  # W1 is whole, and W1-A begins with it
