"""Keys that arrive together do what they do alone: on every screen, in every window, from a terminal and a paste."""

import asyncio
import os
import threading

import pytest
from apps import app_on, press, screen_text
from budget import TIMES, drawn
from bursting import difference, key_event, run, split, walk
from shows import FERRY
from terminals import Terminal
from textual import events
from textual.widgets import Input

from fieldkit import samples
from fieldkit.app.dialogs.windows import Ask, Dialog, TextQuestion
from fieldkit.app.screens import SCREENS
from fieldkit.app.terminal.in_turn import MOST_PASTED
from fieldkit.app.terminal.key_parser import KeyParser
from fieldkit.show.opening import open_show

HALL = samples.folder() / "village_hall.toml"


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


@pytest.fixture
def ferry(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    return path


# ---- from outside: one write -------------------------------------------------------------------------------------


@pytest.mark.skipif(os.name == "nt", reason="there is no pseudo-terminal on this system")
@pytest.mark.parametrize(
    ("story", "holds"),
    drawn([
        (b"3anew zone\rporch\r\x13", lambda show: [zone.id for zone in show.zones][-1] == "porch"),
        (b"3\x1b[B\r\r\x15TOP\r\x1b\x13", lambda show: show.boxes[0].id == "TOP"),  # the label of the first box
        (b"gML1\r\r\x1bg\x1b62 V * 3\r\x1b3\x1b[Bccu\x13", lambda show: len(show.boxes) == 3),
        (b"4tss\x1b\x1b\x10f\r\r\x1b\x1b\x1b\x1bORanew zone\rx\ranew zone\ry\r\x13", lambda show: [zone.id for zone in show.zones][-2:] == ["x", "y"]),
        (b"?data of\r\r\x1b[200~Pier\nq\n\x1b[201~\r\x1b\x13", lambda show: show.about.name == "Pier"),
    ], 2),
)  # fmt: skip
def test_a_whole_story_as_one_write(ferry, story, holds):
    terminal = Terminal(str(ferry))
    try:
        terminal.until("Overview")
        os.write(terminal.main, story)
        terminal.until("saved: ferry.toml")
        assert terminal.process.poll() is None
        assert holds(open_show(ferry).show)
    finally:
        terminal.close()


# ---- every screen and window, against the same keys one at a time ------------------------------------------------


@pytest.mark.parametrize(("seed", "mode"), drawn([*enumerate(mode for _, mode, _ in SCREENS), (8, "")], 4))
async def test_random_keys_of_every_screen(tmp_path, seed, mode):
    sample = HALL if mode else None
    story = walk(seed, 24 * TIMES, mode)  # ``bench/bursts.py`` walks as far as is wanted
    half = len(story) // 2
    bursts = [*split(story[:half], 2), *split(story[half:], 6)]
    alone = await run(tmp_path / "run", sample, bursts, alone=True, quick=True)
    assert len(alone) == len(bursts)
    assert difference(alone, await run(tmp_path / "run", sample, bursts, quick=True), bursts) == ""


async def test_a_key_waits_until_its_screen_is_filled(ferry):
    app = app_on(ferry)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "4")
        screen = app.screen
        screen.filled = False  # as it is between its coming in sight and its first filling
        app.post_message(key_event("e"))
        await asyncio.sleep(0.2)
        assert app.screen is screen
        screen.filled = True
        await app.keys_done()
        assert "where the numbers come from" in screen_text(app)


class Busy(Dialog[str]):
    """A window that waits for a thread."""

    def __init__(self) -> None:
        super().__init__()
        self.go_on = threading.Event()

    def on_mount(self) -> None:
        self.run_worker(self._work, thread=True)

    def on_unmount(self) -> None:
        self.go_on.set()

    def _work(self) -> None:
        self.go_on.wait(10)
        self.app.call_from_thread(self.dismiss, "done")


@pytest.mark.parametrize(("stopped", "boxes"), [(False, 3), (True, 2)])
async def test_keys_wait_for_a_window_at_work_and_escape_stops_it(ferry, stopped, boxes):
    app = app_on(ferry)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "down")
        window = Busy()
        await app.push_screen(window)
        app.post_message(key_event("c"))  # another box, once the window is gone
        await pilot.pause()
        assert app.keys_wait
        assert len(app.session.present.boxes) == 2
        if stopped:
            app.post_message(key_event("escape"))  # and what was typed before it is not wanted any more
        else:
            window.go_on.set()
        await app.keys_done()
        assert len(app.screen_stack) == 1
        assert len(app.session.present.boxes) == boxes


async def test_a_window_closes_once(ferry):
    app = app_on(ferry)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3")
        answers = []
        window = Ask(TextQuestion("a word", "x", str))
        await app.push_screen(window, answers.append)
        for answer in ("a", "b", "c"):
            window.dismiss(answer)
        await app.keys_done()
        assert answers == ["a"]
        assert len(app.screen_stack) == 1


# ---- pastes ------------------------------------------------------------------------------------------------------


async def test_a_paste_goes_into_the_field_and_is_never_keys(ferry):
    app = app_on(ferry)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "6", "enter")
        app.post_message(events.Paste("\n  2 V *\t3\x1b[31m\r\nq\r\nd\n"))
        await app.keys_done()
        assert app.screen.query_one(Input).value == "  2 V * 3[31m"
        assert "first of the 3 lines" in screen_text(app)
        await press(pilot, "escape")
        app.post_message(events.Paste("q\rdd"))
        await app.keys_done()
        assert "a paste goes into a field" in screen_text(app)
        assert app.session.present == open_show(ferry).show


@pytest.mark.parametrize("pasted", [True, False])
async def test_ten_thousand_characters(ferry, pasted):
    app = app_on(ferry)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "6", "enter")
        text = "1+" * (MOST_PASTED // 2)
        for event in [events.Paste(f"{text}1")] if pasted else map(key_event, text):
            app.post_message(event)
        await app.keys_done()
        assert app.screen.query_one(Input).value == text


@pytest.mark.parametrize("alone", [True, False])
async def test_what_fits_best_is_chosen_however_fast_it_is_typed(tmp_path, alone):
    path = tmp_path / "new.toml"
    path.write_text('format = 2\n[[zones]]\nid = "hall"\n', encoding="utf-8")
    app = app_on(path)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "a")
        for key in (*"new box", "enter"):
            app.post_message(key_event(key))
            if alone:
                await app.keys_done()
        await app.keys_done()
        assert "label of the new box" in screen_text(app)  # a new zone is told with the word box too


async def test_a_label_and_what_is_typed_behind_it(ferry):
    app = app_on(ferry)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for key in (
            "g",
            *"ml2",
            "escape",
            "3",
            "question_mark",
            *"weather",
            "enter",
            "ctrl+u",
            *"5 °C",
            "enter",
        ):  # ml2 is found with its last letter
            app.post_message(key_event(key))
        await app.keys_done()
        assert app.session.present.about.temperature == "5 °C"


# ---- the parser --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parts", "keys"),
    [
        (["\x1bq"], ["escape", "q"]),
        (["\x1b", "1"], ["escape", "1"]),
        (["\x1b\x1b[Bq"], ["escape", "down", "q"]),
        (["\x1b", "[B"], ["down"]),
        (["\x1b[", "5~\x1bOP\x1b\r"], ["pageup", "f1", "escape", "enter"]),
        (["a\x1b[200~q\x1b", "[B\nq\x1b[20", "1~b"], ["a", "q\x1b[B\nq", "b"]),
        (["\x1b[20", "0~q\r\x1b[201~b"], ["q\r", "b"]),
        (["a\x1b[9999999;9999999ub", "\x1b[99999999999u\x1b[1:2;3:u"], ["a", "b"]),
    ],
)
def test_an_escape_is_a_key_of_its_own_and_a_paste_a_whole(parts, keys):
    parser = KeyParser()
    found = [event for part in parts for event in parser.feed(part)]
    assert [event.text if isinstance(event, events.Paste) else event.key for event in found] == keys
