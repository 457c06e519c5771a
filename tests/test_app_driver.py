"""The line to the terminal: slow, stuck, gone; and what the driver and the painting lean on inside Textual."""

import os
import random
import re
import signal
import time

import pyte
import pytest
from cells import Picture
from rich.color import ColorSystem
from rich.style import Style
from shows import FERRY
from terminals import Terminal

from fieldkit import samples
from fieldkit.app.terminal.painting import _turned
from fieldkit.app.terminal.scrolling import scrolled
from fieldkit.app.widgets.beside import PAUSE_S
from fieldkit.show.keep import recovery

pytestmark = pytest.mark.skipif(os.name == "nt", reason="there is no pseudo-terminal on this system")

DOWN, UP, REDRAW = b"\x1b[B", b"\x1b[A", b"\x0c"
ASK, ANSWER = b"\x1b[?2026$p", b"\x1b[?2026;2$y"


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))


@pytest.fixture
def show(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    return path


@pytest.fixture
def zones(show):
    """A terminal with the boxes of a show, and one edit made: another box like ML1."""
    terminals = []

    def start(**options):
        terminal = Terminal(str(show), **options)
        terminals.append(terminal)
        terminal.shown = terminal.until("Overview")
        os.write(terminal.main, b"3")
        terminal.shown += terminal.until("[3 Zones]")
        os.write(terminal.main, DOWN + b"c")
        terminal.shown += terminal.until("MR1")
        return terminal

    yield start
    for terminal in terminals:
        terminal.close()


def assert_kept(show):
    (kept,) = recovery.kept_for(show)
    assert 'id = "MR1"' in kept.text
    assert not show.with_name(f".{show.name}.open").exists()


def hold_a_key(terminal, rate, seconds):
    """Press a key 30 times a second on a line of so many bytes a second; give what came through."""
    came = b""
    start = time.monotonic()
    while (now := time.monotonic() - start) < seconds:
        os.write(terminal.main, UP if int(now * 2) % 2 else DOWN)
        if rate:
            came += os.read(terminal.main, max(1, int(rate / 30)))
        time.sleep(1 / 30)
    return came


@pytest.mark.parametrize(("controlling", "rate"), [(True, 0), (False, 2_000)], ids=["stuck", "slow, without a signal"])
def test_a_terminal_that_is_closed_behind_ends_the_program_with_work_kept(zones, show, controlling, rate):
    terminal = zones(controlling=controlling)
    for _ in range(20 if not rate else 1):
        os.write(terminal.main, b"4321" * 20)  # much to paint
    hold_a_key(terminal, rate, 0.5)
    terminal.hang_up()
    assert terminal.ended() == 128 + signal.SIGHUP
    assert_kept(show)


def test_a_signal_is_heard_while_the_line_is_stuck(zones, show):
    terminal = zones()
    for _ in range(20):
        os.write(terminal.main, b"4321" * 20)
    terminal.wait_until_stuck()
    terminal.signal(signal.SIGTERM)
    assert terminal.ended() == 128 + signal.SIGTERM
    assert_kept(show)


def test_a_line_that_was_behind_shows_the_newest_state_and_little_else(zones):
    terminal = zones()
    os.write(terminal.main, ANSWER)  # a terminal that answers, from here on
    terminal.shown += terminal.read()
    for _ in range(20):
        os.write(terminal.main, b"43")
    came = new = terminal.read()  # the questions in it are not answered yet: this line takes nothing more
    while asked := new.count(ASK):
        os.write(terminal.main, ANSWER * asked)
        new = terminal.read()
        came += new
    assert len(came) <= 20_000  # a few frames, whole or in parts, of forty changes of screen
    picture = Picture()
    picture.feed(terminal.shown + came)
    assert "[3 Zones]" in picture.text
    before = picture.text, picture.seen()
    picture.feed(terminal.send(REDRAW))
    assert (picture.text, picture.seen()) == before


def test_what_is_seen_is_what_a_full_painting_shows(zones):
    """The differences add up, window over screen and back, wide signs and accents among them."""
    terminal = zones()
    picture = Picture()
    picture.feed(terminal.shown)
    story = (
        (DOWN, "MR1"),
        (b"?", "esc leaves"),
        (b"\x1b", "? all keys"),
        (b"g", "go to"),
        ("日本語 é".encode(), "nothing by that name"),
        (b"\x1b", "? all keys"),
        (b"5", "[5 Supply]"),
        (b"4", "[4 Racks]"),
        (b"f", "worst first"),
        (DOWN, "worst first"),
        (b"\x1b", "? all keys"),
    )
    for keys, text in story:
        os.write(terminal.main, keys)
        picture.until(terminal, text)
        # The text about the row comes once the keys are quiet, and later where other programs run.
        picture.feed(terminal.read(PAUSE_S + (0.9 if keys == DOWN else 0.3)))
        before = picture.text, picture.seen()
        redrawn = terminal.send(REDRAW)
        assert len(redrawn) > 1_000
        picture.feed(redrawn)
        assert (picture.text, picture.seen()) == before, keys


def test_a_list_that_goes_on_is_moved_by_the_terminal(tmp_path):
    """A step costs one line and the cursor's two; what is seen is what a full painting shows."""
    path = tmp_path / "air.toml"
    path.write_bytes((samples.folder() / "open_air.toml").read_bytes())
    terminal = Terminal(str(path))
    picture = Picture()
    try:
        picture.until(terminal, "Overview")
        os.write(terminal.main, b"4")
        picture.until(terminal, "[4 Racks]")
        for key, moves in ((DOWN, rb"\x1b\[1M\x1b\[r"), (UP, rb"\x1b\[1L\x1b\[r")):
            steps = [terminal.send(key * 22), *(terminal.send(key) for _ in range(5))]
            moved = [came for came in steps if re.search(moves, came)]
            assert moved
            assert min(map(len, moved)) < 400
            picture.feed(b"".join(steps) + terminal.read(PAUSE_S + 0.9))
            before = picture.text, picture.seen()
            picture.feed(terminal.send(REDRAW))
            assert (picture.text, picture.seen()) == before
    finally:
        terminal.close()


def test_lines_are_moved_as_a_terminal_moves_them():
    draw = random.Random(4)
    found = 0
    for _ in range(200):
        rows, top, bottom = [f"row {n % 23}" for n in range(80)], draw.randint(0, 4), draw.randint(12, 23)
        first, step = draw.randint(20, 40), draw.choice((-9, -4, -2, -1, 1, 2, 3, 7))
        seen = [f"head {y}" if y < top else f"foot {y}" if y > bottom else rows[first + y] for y in range(24)]
        wanted = {y: rows[first + step + y] for y in range(top, bottom + 1)}
        for y in draw.sample(range(top, bottom + 1), 3):
            wanted[y] += " *"
        move = scrolled(seen, wanted)
        if move is None:
            continue
        found += 1
        assert top <= move.top < move.bottom <= bottom
        screen = pyte.Screen(20, 24)
        stream = pyte.Stream(screen)
        stream.feed("\r\n".join(seen) + move.sequence)
        assert [line.rstrip() for line in screen.display] == move.applied(seen, "")
        assert screen.margins is None
    assert found > 120
    assert scrolled(["a", "b", "c", "d"], {0: "b", 1: "c", 2: "x", 3: "y"}) is None  # too few
    assert scrolled([None] * 4, dict(enumerate("abcd"))) is None
    assert scrolled(list("abcdefgh"), {y: "bcdefgh "[y] for y in range(8) if y != 3}) is None  # a line stays


OFF = {0: "1234 79ink paper", 22: "12", 23: "3", 24: "4", 27: "7", 29: "9", 39: "ink", 49: "paper"}


def look_after(text):
    """Read the sequences of a style one by one, as a terminal does (ECMA-48 8.3.117; 38 and 48 as xterm has them)."""
    on = {}
    for sequence in re.findall(r"\x1b\[([0-9;]*)m", text):
        codes = iter([int(code or 0) for code in sequence.split(";")])
        for code in codes:
            if code in OFF:
                on = {name: value for name, value in on.items() if name not in OFF[code]}
            elif code in (38, 48):
                count = 1 if next(codes) == 5 else 3
                on["ink" if code == 38 else "paper"] = [next(codes) for _ in range(count)]
            elif code < 10:
                on[str(code)] = True
            else:
                on["ink" if code // 10 in (3, 9) else "paper"] = code
    return on


def test_the_short_way_from_style_to_style_ends_where_the_long_one_does():
    chance = random.Random(2)
    colours = (None, "red", "bright_blue", "color(253)", "#102030", "default")
    parts = ("bold", "dim", "italic", "underline", "reverse", "strike")
    short = long = 0
    for _ in range(400):
        one, other = (
            Style(
                color=chance.choice(colours),
                bgcolor=chance.choice(colours),
                **dict.fromkeys(chance.sample(parts, 2), True),
            )
            for _ in "12"
        )
        for system in (ColorSystem.STANDARD, ColorSystem.EIGHT_BIT, ColorSystem.TRUECOLOR):
            before, after = (style.render("x", color_system=system).partition("x")[0] for style in (one, other))
            turned = _turned(one, other, system)
            assert look_after(before + turned) == look_after(after), (one, other, system, turned)
            assert look_after(before + turned + _turned(other, None, system)) == {}
            short, long = short + len(turned), long + len(f"\x1b[0m{after}")
    assert short < 0.95 * long
    linked = Style(color="red", link="https://example.org")
    assert _turned(Style(color="red"), linked, ColorSystem.STANDARD).startswith("\x1b[0m")


def test_a_program_that_was_stopped_paints_all_again(zones):
    terminal = zones()
    terminal.signal(signal.SIGTSTP)
    assert b"\x1b[?1049l" in terminal.read()
    terminal.signal(signal.SIGCONT)
    picture = Picture()
    picture.feed(terminal.read())
    assert "[3 Zones]" in picture.text
    assert "MR1" in picture.text


def test_broken_bytes_are_keys_like_others(zones):
    terminal = zones()
    os.write(terminal.main, b"\xff\xfe\xc3")
    assert b"[4 Racks]" in terminal.send(b"4") + terminal.read()
    assert terminal.process.poll() is None


class TestFlow:
    """A line that answers, on a clock of its own."""

    def flow(self, rate, way_s):
        from fieldkit.app.terminal.driver import Flow

        flow, clock, answers = Flow(), [0.0], []

        def send(size):
            through = max(clock[0], answers[-1] - way_s if answers else 0.0) + size / rate
            answers.append(through + way_s)
            flow.sent(clock[0], size)

        def wait(until):
            while answers and answers[0] <= until:
                flow.answered(answers.pop(0))
            clock[0] = until

        return flow, send, wait, answers

    def hold(self, rate, way_s, size=1_000):
        """Paint 30 times a second for 10 s where the line is open; give the frames and how late the last one is."""
        flow, send, wait, answers = self.flow(rate, way_s)
        send(20)
        wait(3.0)
        assert flow.answers
        frames = 0
        for step in range(300):
            wait(3.0 + step / 30)
            if flow.open(3.0 + step / 30):
                send(size)
                frames += 1
        return frames, answers[-1] - (3.0 + 299 / 30) if answers else 0.0

    def test_a_slow_line_has_one_frame_on_its_way(self):
        frames, late = self.hold(rate=2_000, way_s=0.05)
        assert 15 <= frames <= 25  # 10 s at 2 frames a second, and the first burst before anything was known
        assert late < 0.6

    def test_a_slow_line_gets_parts_of_a_frame_and_a_fast_one_all_of_it(self):
        for rate, least, most in ((2_000, 300, 400), (1_000_000, 8_000, 200_000)):
            flow, send, wait, _ = self.flow(rate=rate, way_s=0.05)
            send(20)
            wait(1.0)
            send(4_000)
            wait(4.0)
            assert least <= flow.room <= most, rate

    def test_a_long_way_alone_is_no_reason_to_wait(self):
        frames, _ = self.hold(rate=1_000_000, way_s=0.3)
        assert frames > 250

    def test_a_terminal_that_does_not_answer_any_more_is_not_waited_for(self):
        flow, send, wait, _ = self.flow(rate=2_000, way_s=0.05)
        send(20)
        wait(1.0)
        flow.sent(1.0, 9_000)
        assert not flow.open(1.1)
        assert flow.open(7.0)
        assert not flow.answers
        flow.answered(8.0)  # it has come back
        assert flow.answers
