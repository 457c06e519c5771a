"""Measure the application from outside, in a pseudo-terminal of 80×24: first screen, keys, typing, slow lines, memory.

    python tests/bench/terminal.py

The first screen is told as a ratio to a bare Textual application on the same machine; bytes are exact, times medians.
Aims: first screen × 1.5, 3.4 kB for a change of screen, 45 MB after 300 Tabs, 1 s behind a key held on a slow line,
0.5 s for 10,000 characters in a field.
"""

from __future__ import annotations

import os
import select
import signal
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

from generated_show import generated
from terminals import Terminal

from fieldkit import samples
from fieldkit.show.writing import canonical

ASK, ANSWER = b"\x1b[?2026$p", b"\x1b[?2026;2$y"
DOWN, PAGE_DOWN = b"\x1b[B", b"\x1b[6~"
BARE = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("READY")
Bare().run()
"""


def first_screen_ms(text: str, *arguments: str, bare: bool = False) -> float:
    """Give the median time from start to the first painting of a text [ms]."""
    spans = []
    for _ in range(5):
        terminal = Terminal(*arguments, command=["-c", BARE] if bare else None)
        found = b""
        while text.encode() not in found:
            found += terminal.read(0.01, 0.05)
        spans.append(1e3 * (time.monotonic() - terminal.started))
        terminal.close()
    return statistics.median(spans)


def key(terminal: Terminal, keys: bytes, times: int) -> tuple[int, float]:
    """Give the median bytes of a key, and the median milliseconds to its first byte."""
    sizes, delays = [], []
    for _ in range(times):
        start = time.perf_counter()
        os.write(terminal.main, keys)
        first = os.read(terminal.main, 65536)
        delays.append(1e3 * (time.perf_counter() - start))
        sizes.append(len(first) + len(terminal.read(0.15)))
    return int(statistics.median(sizes)), statistics.median(delays)


def behind_s(show: Path, bytes_a_second: float) -> float:
    """Hold the down key for two seconds on a line of a speed; give how long the screen goes on after the last key."""
    terminal = Terminal(str(show))
    terminal.until("Overview")
    terminal.send(b"4")
    os.write(terminal.main, ANSWER)  # a terminal that answers, as most do
    begin = time.monotonic()
    sent, read, last_key, last_byte, tail = 0, 0, begin, begin, b""
    while time.monotonic() - max(last_key, last_byte) < 2.0:
        now = time.monotonic() - begin
        if sent < 60 and now >= sent / 30:
            os.write(terminal.main, DOWN)
            sent, last_key = sent + 1, time.monotonic()
        room = int(bytes_a_second * now) - read
        if room > 0 and select.select([terminal.main], [], [], 0.005)[0]:
            came = os.read(terminal.main, min(room, 256))
            read, last_byte = read + len(came), time.monotonic()
            tail += came
            os.write(terminal.main, ANSWER * tail.count(ASK))
            tail = tail[tail.rfind(ASK) + len(ASK) :] if ASK in tail else tail[-len(ASK) :]
        else:
            time.sleep(0.002)
    terminal.close()
    return last_byte - last_key


def typed_s(show: Path, text: bytes) -> float:
    """Send a text into the field of the calculator at once; give the seconds until the screen is at rest."""
    terminal = Terminal(str(show))
    terminal.until("Overview")
    terminal.send(b"6")
    terminal.send(b"\r")
    os.set_blocking(terminal.main, False)
    begin = last = time.monotonic()
    while text or time.monotonic() - last < 1.0:
        readable, writable, _ = select.select([terminal.main], [terminal.main] if text else [], [], 0.05)
        if writable:
            text = text[os.write(terminal.main, text[:1024]) :]
        if readable:
            os.read(terminal.main, 65536)
        if readable or writable:
            last = time.monotonic()
    terminal.close()
    return last - begin


def resident_mb(pid: int) -> float:
    """Give the resident memory of a process [MB]."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return 0.0


def main() -> None:
    """Print one line a budget."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FIELDKIT_STATE"] = folder
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        bare = first_screen_ms("READY", bare=True)
        show = Path(folder) / "hall.toml"
        show.write_bytes((samples.folder() / "village_hall.toml").read_bytes())
        ours = first_screen_ms("Overview", str(show))
        print(f"first screen: bare {bare:.0f} ms, ours {ours:.0f} ms, × {ours / bare:.2f}")
        long = Path(folder) / "long.toml"
        long.write_text(canonical(generated(1_500)), encoding="utf-8")
        terminal = Terminal(str(long))
        terminal.until("Overview")
        terminal.send(b"4")
        for name, keys, times in (("key in a list of 1,000", DOWN, 15), ("page", PAGE_DOWN, 9)):
            size, delay = key(terminal, keys, times)
            print(f"{name}: {size} B, {delay:.1f} ms")
        for name, keys in (("screen, warm", b"3"), ("screen, warm", b"4")):
            size, delay = key(terminal, keys, 1)
            print(f"{name}: {size} B, {delay:.1f} ms")
        print(f"idle: {len(terminal.read(3.0, 3.0))} B in 3 s")
        for _ in range(300):
            os.write(terminal.main, b"\t")
            terminal.read(0.01, 0.05)
        print(f"resident after 300 Tabs: {resident_mb(terminal.process.pid):.0f} MB")
        terminal.close()
        for speed in (2_000, 20_000):
            print(f"a key held on a line of {speed // 1000} kB/s: {behind_s(long, speed):.1f} s behind")
        for how, text in (("typed", b"1+" * 5_000), ("pasted", b"\x1b[200~" + b"1+" * 5_000 + b"\x1b[201~")):
            print(f"10,000 characters {how}: {typed_s(show, text):.2f} s")
        terminal = Terminal(str(show))
        terminal.until("Overview")
        terminal.send(b"3")
        terminal.send(DOWN)
        terminal.send(b"c")
        start = time.perf_counter()
        terminal.signal(signal.SIGHUP)
        terminal.process.wait(timeout=10)
        print(f"hang-up to left with work kept: {1e3 * (time.perf_counter() - start):.0f} ms")
        terminal.close()


if __name__ == "__main__":
    main()
