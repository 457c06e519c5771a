"""The screen Triage: the rig check by reading and enter alone, the search by letters, and what is kept of it."""

import shutil

import pytest
from apps import app_on, do, press, type_text
from sheet_tools import sample

from fieldkit import samples
from fieldkit.app.dialogs.windows import Choose
from fieldkit.app.tasks.rig_check import instead_of
from fieldkit.app.trouble import Trouble
from fieldkit.sheets.material import material_of
from fieldkit.sheets.rig_check import rig_check_page
from fieldkit.triage.belief.observations import Ear, Look, Tried, metered
from fieldkit.triage.rig_check.recording import MeterPlace, with_reading


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))
    return tmp_path


def hall():
    return app_on(samples.folder() / "village_hall.toml")


async def test_metering_takes_the_reading_and_enter():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "7", "enter")
        await type_text(pilot, "5,8")
        text = await press(pilot, "enter")
        assert "W1/1: as expected" in text
        await press(pilot, "enter")
        await type_text(pilot, "OL")
        text = await press(pilot, "enter")
        assert "open: no connection to TL" in text
        readings = app.session.present.readings
        assert [(one.line, one.at, str(one.value)) for one in readings] == [
            ("W1/1", "amp", "5.8 ohm"),
            ("W1/2", "amp", "open"),
        ]
        assert readings[0].time is not None
        overview = await press(pilot, "f1")
        assert "2 of 4 lines metered" in overview
        await press(pilot, "u", "u")
        assert app.session.present.readings == ()


async def test_from_the_overview_to_what_is_left_of_the_rig_check_whatever_the_pass():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        session = app.session
        show = session.present
        for line in session.rig.lines:
            show = with_reading(show, MeterPlace(line.id, "amp", "dc", False), "5.8")
        session.apply("metered", show)
        app.frame.query_one("Rows").move_to("stands rig check")
        text = await press(pilot, "enter")
        assert app.screen.query_one("Rows").key == "noise AMP.1"
        assert "scale" not in text  # nothing of noise stands on one
        await press(pilot, "enter", "y", "f1")
        app.frame.query_one("Rows").move_to("stands rig check")
        await press(pilot, "enter")
        assert app.screen.query_one("Rows").key == "noise AMP.2"


async def test_a_reading_that_is_none_is_refused_where_it_was_typed():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "7", "enter")
        assert "expected a resistance" in await type_text(pilot, "quite a lot")
        await press(pilot, "enter")
        assert app.session.present.readings == ()


async def test_a_test_that_was_made_stays_with_its_box_when_labels_are_exchanged():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "7", "n", "n")
        assert app.screen.query_one("Rows").key.endswith("TL")
        await press(pilot, "enter", "y")
        assert [(one.kind, one.at) for one in app.session.present.log] == [("polarity", "TL")]
        for old, new in (("TL", "TX"), ("TR", "TL")):
            app.bench.edit("boxes", old)
            await press(pilot)
            app.screen.query_one("Rows").move_to("id")
            await press(pilot, "enter", "ctrl+u")
            await type_text(pilot, new)
            await press(pilot, "enter", "escape")
        assert [box.id for box in app.session.present.boxes][:2] == ["TX", "TL"]
        assert [(one.kind, one.at) for one in app.session.present.log] == [("polarity", "TX")]


async def test_the_three_passes():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "7", "n")
        assert "SL sub alone" in text  # what is to be heard, not that it is to be heard
        text = await press(pilot, "enter", "y", "enter", "n")
        assert "as planned" in text
        assert "! not as planned" in text
        text = await press(pilot, "n")
        assert "polarity as planned" in text
        await press(pilot, "enter", "y")
        assert [(one.kind, one.at, one.ok) for one in app.session.present.log] == [
            ("noise", "AMP.1", True),
            ("noise", "AMP.2", False),
            ("polarity", app.session.present.boxes[0].id, True),
        ]


async def test_a_label_and_one_letter_give_advice():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "TL")
        await press(pilot, "enter")
        text = await press(pilot, "s")
        assert "next, " in text
        assert "said: TL: silent" in text or "fix 1" in text
        assert "%" in text
        before = app.bench.trouble.advice(app.session.rig).suspects
        await press(pilot, "u")
        assert app.bench.trouble.seen == []
        assert app.bench.trouble.advice(app.session.rig).suspects != before


async def test_a_fix_that_did_not_help_is_said():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "TL")
        await press(pilot, "enter", "s")
        assert "done, and it did not help" in await do(pilot, "did not help")
        text = await press(pilot, "enter")
        assert isinstance(app.bench.trouble.seen[-1], Tried)
        assert app.bench.trouble.seen[-1].fix in {fault.fix for fault in app.bench.trouble._case.faults}
        assert "next, " in text


def test_a_new_answer_to_the_same_question_takes_the_place_of_the_old_one():
    trouble = Trouble("TL")
    again = metered("amp:1=3.4"), metered("amp:1=3.5")
    for item in (Ear("TL", "silent"), *again, Ear("TR", "normal")):
        assert trouble.say(item) is None
    assert trouble.say(Ear("TL", "normal")) == Ear("TL", "silent")
    assert trouble.seen == [*again, Ear("TR", "normal"), Ear("TL", "normal")]


async def test_from_a_row_no_label_is_asked_for():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "7", "t")
        assert app.bench.trouble.what == "W1"
        assert "next, " in text


async def test_a_fault_is_narrowed_mended_and_kept():
    app = app_on(samples.folder() / "school_musical.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "N2")
        before = sum(stock.out for stock in app.session.present.stock if stock.model == "two-way-12-inch")
        await press(pilot, "enter", "v")
        text = await do(pilot, "fixed")
        assert "fixed: what was it" in text
        await type_text(pilot, "high driver of N2")
        text = await press(pilot, "enter")
        assert "fault tag" in text
        assert "OUT OF SERVICE" in text
        assert "the high driver of N2 is open" in text
        (entry,) = app.session.present.log
        assert (entry.kind, entry.at) == ("fault", "N2")
        model = next(box.model for box in app.session.present.boxes if box.id == "N2")
        assert sum(stock.out for stock in app.session.present.stock if stock.model == model) == before + 1
        await press(pilot, "escape", "n", "u")
        assert app.session.present.log == ()


async def test_other_tests_and_circumstances():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "SL")
        await press(pilot, "enter", "w")
        await do(pilot, "worked before")
        assert "worked before, show is on" in await do(pilot, "show is on")
        await do(pilot, "live")
        assert "look at the amplifier AMP: plugs home" in await press(pilot, "n")
        text = await type_text(pilot, "DC ohms at amp, pins 1")
        assert "DC ohms into W1-A at amp, pins 1+ and 1-, plug pulled" in text
        await press(pilot, "enter")
        await type_text(pilot, "0.3")
        await press(pilot, "enter")
        assert app.bench.trouble.seen[-1].ohm == pytest.approx(0.3)
        assert "well 5.7 ohm" in app.bench.trouble.compared(app.bench.trouble.seen[-1])


async def test_a_broken_table_of_ones_own_is_said_and_nothing_falls(state):
    (state / "config").mkdir()
    (state / "config" / "triage.toml").write_text("[odds]\nno-such = 1\n", encoding="utf-8")
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        assert "triage.toml: unknown key 'no-such'" in await press(pilot, "7")


async def test_a_box_can_be_metered_by_itself():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "7")
        await do(pilot, "meter elsewhere")
        await type_text(pilot, "SL.alone")
        await press(pilot, "enter")
        await type_text(pilot, "5.6")
        text = await press(pilot, "enter")
        assert "W1/1: as expected" in text
        assert [(one.line, one.at) for one in app.session.present.readings] == [("W1/1", "SL.alone")]


async def test_only_the_reading_and_enter():
    """A digit on the list begins the reading, with the caution at 80 columns; it never leaves the screen there."""
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "7", "5")
        assert "esc leaves" in text
        assert any(word in text for word in ("isolated, waited?", "volts AC first?"))
        await press(pilot, "full_stop", "8", "enter")
        assert [str(one.value) for one in app.session.present.readings] == ["5.8 ohm"]
        await press(pilot, "3", "enter", "n")
        assert len(app.session.present.readings) == 2
        await press(pilot, "n", "n", "7", "full_stop", "8")
        assert "SL, W1/1: " in await press(pilot, "enter")  # on the bench, by its box
        await press(pilot, "n", "4")  # the meter pass again, where a digit is a reading
        assert type(app.screen).__name__ == "Ask"


async def test_a_pass_is_evidence_and_the_cursor_stays():
    """Noise on one output plays a box of another line: which one is asked, and t on that row begins with it."""
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "7", "n", "down", "enter")
        assert "AMP.2: quiet noise heard from TL alone?" in text
        assert "all others muted" in text
        await press(pilot, "o")
        other = app.session.present.boxes[0].id
        await type_text(pilot, other)
        entry = app.session.present.log[-1]
        assert (entry.kind, entry.ok, entry.played) == ("noise", False, (other,))
        row = app.screen.query_one("Rows").key
        assert row == f"noise {entry.at}"
        text = await press(pilot, "t")
        assert app.screen.searching
        seen = app.bench.trouble.advice(app.session.rig)
        assert seen.suspects
        await press(pilot, "v")
        assert app.screen.query_one("Rows").key == row


async def test_after_each_answer_what_changed_and_what_there_is_not():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "TL")
        await press(pilot, "enter", "s")
        next_test = app.bench.trouble.advice(app.session.rig).next.test
        text = await press(pilot, "enter", {"lights": "s", "look": "n", "listen": "n"}.get(next_test.kind, "n"))
        assert "% before, " in text
        await do(pilot, "not there")
        await press(pilot, "m")
        assert "meter" not in {test.kind for test in app.bench.trouble.tests(app.session.rig)}
        await do(pilot, "not there")
        await press(pilot, "m")
        assert "meter" in {test.kind for test in app.bench.trouble.tests(app.session.rig)}


async def test_every_word_of_an_ear_is_on_the_screen_at_80_by_24():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "TL")
        text = await press(pilot, "enter")
        assert all(word in text for word in ("silent", "louder when its neighbour is muted", "radio", "normal"))
        assert "press the letter" in text


async def test_a_zone_is_asked_about_as_a_whole_and_a_setting_with_its_output():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "hall")
        assert "what does hall do?" in await press(pilot, "enter")
        await press(pilot, "s")
        assert app.bench.trouble.seen == [Ear("hall", "silent")]
        app.screen._ask_test(next(test for test in app.bench.trouble.tests(app.session.rig) if test.at == "amp"))
        assert "at which output" in await press(pilot, "m")
        await type_text(pilot, "AMP.2")
        assert app.bench.trouble.seen[-1] == Look("AMP.2", "mute")


async def test_a_note_is_kept_with_the_time_and_shown():
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "TL")
        await press(pilot, "enter", "s", ":")
        await type_text(pilot, "tape on the plug")
        text = await press(pilot, "enter")
        (entry,) = app.session.present.log
        assert (entry.kind, entry.at, entry.says) == ("note", "TL", "tape on the plug")
        assert entry.time is not None
        app.screen.query_one("Rows").move_to("noted 0")
        text = await press(pilot)
        assert "tape on the plug" in text
        page = rig_check_page(material_of(app.session.present))
        (log,) = [item for item in page.blocks if getattr(item, "name", "") == "log"]
        assert log.rows[0][1:] == ("TL", "tape on the plug")


async def test_shop_prep_meters_box_by_box_and_tags_the_one_that_reads_high():
    """Story 3: the reading and enter, box by box; one at 133 % has a cause at once, and a tag."""
    app = hall()
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "7", "n", "n", "n")
        assert "SL.alone" in text
        assert app.screen.query_one("Rows").key == "read W1/1 SL.alone"
        text = await press(pilot, "7", "full_stop", "3", "enter", "up")
        assert "133% of what it should" in text
        text = await press(pilot, "t")
        assert app.bench.trouble.what == "SL"
        assert "a contact of the sub section inside SL is bad" in text
        app.screen.query_one("Rows").move_to("fix 1")
        await press(pilot, "enter", "y", "enter")
        (entry,) = app.session.present.log
        assert (entry.kind, entry.at) == ("fault", "SL")
        assert any(item.model == "sub-single-15-inch" and item.out == 1 for item in app.session.present.stock)


async def test_leaving_while_a_fault_is_looked_for_asks(tmp_path):
    app = app_on(shutil.copy("sample_shows/village_hall.toml", tmp_path / "hall.toml"))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        await type_text(pilot, "TL")
        await press(pilot, "enter")
        await press(pilot, "s")
        text = await press(pilot, "q")
        assert "a fault at TL is still being looked for" in text
        assert "leaving drops 1 answer" in text
        await press(pilot, "escape")
        assert app.is_running
        await press(pilot, "q", "enter")
        assert app._exit


def test_a_plug_in_the_wrong_socket_is_heard_from_all_that_hangs_on_it():
    """One box of an output, typed, gives all of its boxes first: one of two alone would speak against an exchange."""
    rows = dict(instead_of(sample("open_air").rig, "FX.1"))
    choose = Choose("which boxes played", list(rows))
    assert [rows[row] for row in choose.matching("fr1")] == [("FR1", "FR2"), ("FR1",)]
    assert ("FL1", "FL2") not in rows.values()  # what was planned
    assert [row.key for row in choose.matching("m3")] == ["M3"]  # the only box of its output
