"""Kill the application at random moments, in every way that is known, and count what is lost, blocked or offered wrongly.

    python tests/bench/kills.py [TRIALS] [--seed N] [--only WAY,…]

A trial opens a copy of a show in a pseudo-terminal, edits, undoes and saves it at random, and ends it in one of ``WAYS``.
The person's view judges: the show file and what the next start would offer, against the edits that were made by then.
Prints a line a way; ``tests/test_kills.py`` runs one trial of each.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import select
import signal
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from subprocess import TimeoutExpired

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

from shows import FERRY
from terminals import Terminal

from fieldkit.show.keep import claims, recovery

KEEP_S = 2.0
"""Nothing older than this may be lost, whatever ends the program."""
SLACK_S = 0.6
"""From a key to its edit: the program may have other things to do."""
END_S = 2.0
"""A program that is asked to end is gone within a second; a second more for a machine that is busy."""

SIGNALS = {"hup": signal.SIGHUP, "int": signal.SIGINT, "quit": signal.SIGQUIT, "term": signal.SIGTERM}
WAYS = (
    "kill",
    *SIGNALS,
    "close",  # the terminal goes, and its signal comes
    "vanish",  # the terminal goes without a signal
    "stuck close",  # it goes while output is backed up
    "stuck term",
    "slow vanish",  # it goes in the middle of 2,000 bytes a second
    "save",  # killed within 30 ms of the key that saves
    "steady",  # killed after edits without a pause
    "two",  # killed while somebody else has the show open to read
    "moved",  # killed after its file went to another folder
)
Boxes = frozenset[str]


@dataclass
class Trial:
    """What was done to one show, and what was found afterwards."""

    way: str
    path: Path
    random: random.Random
    longest_s: float = 4.0
    """It is worked on for as long at the most."""
    states: list[tuple[float, Boxes]] = field(default_factory=list)
    """The boxes of the show, from that moment on."""
    saved: list[tuple[float, Boxes]] = field(default_factory=list)
    """What a save would have written, from the moment of its key on."""
    ended: float = 0.0
    faults: list[str] = field(default_factory=list)

    @property
    def boxes(self) -> Boxes:
        """The boxes as they are after the last key."""
        return self.states[-1][1]

    def at(self, moment: float) -> Boxes:
        """Give the boxes of a moment."""
        return next((boxes for when, boxes in reversed(self.states) if when <= moment), self.states[0][1])


def boxes_of(text: str) -> Boxes:
    """Read which boxes a show file has."""
    return frozenset(box["id"] for box in tomllib.loads(text)["boxes"])


def offered(path: Path) -> list[str]:
    """Give what the next start would offer for a show, the newest first."""
    return [kept.text for kept in recovery.kept_for(path)]


class Crew:
    """Somebody at the keys of one trial, who reads the screen or does not."""

    def __init__(self, trial: Trial) -> None:
        self.trial = trial
        self.terminal = Terminal(str(trial.path), controlling=trial.way in {"close", "stuck close"})
        self.undone: list[Boxes] = []
        self.past: list[Boxes] = []
        self.draining = True
        self.rate = 0

    def wait(self, seconds: float) -> None:
        """Let time pass, and read what comes."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if not self.draining:
                time.sleep(left)
            elif self.rate:
                self._read(max(1, self.rate // 50), 0.0)
                time.sleep(min(left, 0.02))
            else:
                self._read(65_536, left)

    def _read(self, most: int, longest_s: float) -> None:
        if select.select([self.terminal.main], [], [], longest_s)[0]:
            with contextlib.suppress(OSError):  # it has ended
                os.read(self.terminal.main, most)

    def open(self) -> None:
        """Go to the boxes."""
        self.terminal.until("Overview")
        os.write(self.terminal.main, b"3")
        self.terminal.until("[3 Zones]")
        self.trial.states.append((time.time(), boxes_of(self.trial.path.read_text(encoding="utf-8"))))

    def edit(self) -> None:
        """Copy ML1, the first box: its copy stands across, and each has the next number."""
        now = self.trial.boxes
        number = 1 + max((int(box[2:]) for box in now if box.startswith("MR")), default=0)
        self.past.append(now)
        self._press(b"\x1b[H\x1b[Bc", now | {f"MR{number}"})

    def undo(self) -> None:
        """Take the last edit back."""
        if self.past:
            self._press(b"u", self.past.pop())

    def save(self) -> None:
        """Save."""
        self.trial.saved.append((time.time(), self.trial.boxes))
        os.write(self.terminal.main, b"\x13")

    def _press(self, key: bytes, after: Boxes) -> None:
        os.write(self.terminal.main, key)
        self.trial.states.append((time.time(), after))


def run(trial: Trial) -> Trial:
    """Run one trial, and note its faults."""
    chance = trial.random
    crew = Crew(trial)
    others: list[Terminal] = []
    try:
        crew.open()
        if trial.way == "two":
            others.append(Terminal(str(trial.path)))
            others[0].until("read only")
        _work(crew, chance)
        if trial.way == "moved":
            there = trial.path.parent / "elsewhere"
            there.mkdir()
            trial.path = trial.path.rename(there / trial.path.name)
        _end(crew, chance)
        _judge(trial)
    finally:
        crew.terminal.close()
        for other in others:
            other.close()
    return trial


def _work(crew: Crew, chance: random.Random) -> None:
    """Edit at random; ``steady`` never pauses for as long as the program would wait to keep its work."""
    steady = crew.trial.way == "steady"
    end = time.monotonic() + (3.0 + chance.random() if steady else chance.uniform(0.2, crew.trial.longest_s))
    while time.monotonic() < end:
        crew.edit()
        crew.wait(chance.uniform(0.1, 0.5) if steady else chance.choice([0.05, 0.3, 1.0, 2.6]) * chance.random())
        if chance.random() < 0.15:
            crew.undo()
            crew.wait(0.1)
        if chance.random() < 0.15 and not steady:
            crew.save()
            crew.wait(0.3)
    if crew.trial.way == "save":
        crew.save()
        crew.wait(chance.uniform(0.0, 0.03))
    if crew.trial.way.startswith(("stuck", "slow")):
        crew.draining, crew.rate = crew.trial.way == "slow vanish", 2_000
        for turn in range(30):
            os.write(crew.terminal.main, b"\x1b[A" if turn % 2 else b"\x1b[B")
            crew.wait(1 / 30)
        for _ in range(3):  # what is typed on a line that is stuck counts as well
            crew.edit()
            crew.wait(0.2)


def _end(crew: Crew, chance: random.Random) -> None:
    """End the program, and note whether it ended."""
    trial, terminal = crew.trial, crew.terminal
    crew.wait(chance.uniform(0.0, 0.4))
    trial.ended = time.time()
    asked = SIGNALS.get(trial.way) or (signal.SIGTERM if trial.way == "stuck term" else None)
    if asked:
        terminal.signal(asked)
    elif "close" in trial.way or "vanish" in trial.way:
        terminal.hang_up()
    else:
        terminal.signal(signal.SIGKILL)
    try:
        status = terminal.process.wait(END_S)
    except TimeoutExpired:
        trial.faults.append("hung")
        terminal.signal(signal.SIGKILL)
        terminal.process.wait(10)
        return
    wanted = 128 + (asked or signal.SIGHUP)
    if status not in {wanted, -signal.SIGKILL}:
        trial.faults.append(f"status {status}")


def _judge(trial: Trial) -> None:
    """Hold what is on disk against what was done."""
    asked = trial.way in {*SIGNALS, "close", "vanish", "stuck close", "stuck term", "slow vanish"}
    file = boxes_of(trial.path.read_text(encoding="utf-8"))
    kept = [boxes_of(text) for text in offered(trial.path)]
    # A program that was asked to end keeps everything that it has seen; one that was killed, what is 2 s old.
    sure = trial.ended - SLACK_S - (0.0 if asked else KEEP_S)
    possible = {trial.at(sure), *(boxes for when, boxes in trial.states if when >= sure)}
    now = kept[0] if kept else file
    if now not in possible:
        missing = sorted(trial.at(sure) - now)
        trial.faults.append("lost edits" if missing else "wrong offer: an undone edit")
    if any(boxes == file for boxes in kept):
        trial.faults.append("wrong offer: nothing unsaved")
    if len(kept) > 1:
        trial.faults.append("wrong offer: more than one session")
    for path in {trial.path, trial.path.parent.parent / trial.path.name} if trial.way == "moved" else {trial.path}:
        if asked and claims.claim_file(path).exists():
            trial.faults.append("lock left")
        held = claims.claim(path).held
        if held is None:
            trial.faults.append("lock blocks")
        else:
            held.release()


def trials(
    ways: Sequence[str], count: int, seed: int, folder: Path, *, at_once: int = 2, longest_s: float = 4.0
) -> list[Trial]:
    """Run so many trials, the ways in turn. The folder of unsaved work is theirs as long as they run."""
    made = []
    for number in range(count):
        path = folder / f"{seed}-{number}" / "ferry.toml"
        path.parent.mkdir()
        # No two alike: work of a show that was moved is known again by its text.
        path.write_text(FERRY.replace('name = "Ferry', f'name = "{number}. Ferry'), encoding="utf-8")
        made.append(Trial(ways[number % len(ways)], path, random.Random(f"{seed} {number}"), longest_s))
    with ThreadPoolExecutor(at_once) as pool:
        return list(pool.map(run, made))


def main() -> None:
    """Print one line a way, and the trials that went wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("trials", nargs="?", type=int, default=len(WAYS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default=",".join(WAYS))
    parser.add_argument("--at-once", type=int, default=2)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        os.environ["FIELDKIT_STATE"] = f"{name}/state"
        os.environ["FIELDKIT_CONFIG"] = f"{name}/config"
        done = trials(options.only.split(","), options.trials, options.seed, Path(name), at_once=options.at_once)
    print(f"{'way':<14}{'trials':>7}{'edits':>7}{'saves':>7}  faults")
    for way in dict.fromkeys(trial.way for trial in done):
        mine = [trial for trial in done if trial.way == way]
        edits, saves = sum(len(trial.states) - 1 for trial in mine), sum(len(trial.saved) for trial in mine)
        faults = Counter(fault for trial in mine for fault in trial.faults)
        said = ", ".join(f"{number} {fault}" for fault, number in faults.items()) or "none"
        print(f"{way:<14}{len(mine):>7}{edits:>7}{saves:>7}  {said}")


if __name__ == "__main__":
    main()
