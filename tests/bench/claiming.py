"""Many programs claim one show at the same moment: how often had other than exactly one it? Prints, asserts nothing."""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from pathlib import Path

from fieldkit.show.keep import claims


def one_try(show: Path, count: int, leave: str) -> list[str]:
    """Let programs claim at one moment, and hear what each has; they live until all have answered."""
    if leave == "stale":
        claims.claim_file(show).write_text(json.dumps({"host": os.uname().nodename, "pid": 1, "since": 1.0}))
    start = time.monotonic() + 0.03
    answers, ends = os.pipe(), os.pipe()
    for _ in range(count):
        if os.fork() == 0:
            while time.monotonic() < start:
                pass
            answer = claims.claim(show)
            os.write(answers[1], b"own " if answer.held is not None else b"not ")
            os.close(ends[1])
            os.read(ends[0], 1)  # until the end is closed
            if answer.held is not None and leave == "released":
                answer.held.release()
            os._exit(0)
    said = b""
    while len(said) < 4 * count:
        said += os.read(answers[0], 4096)
    os.close(ends[1])
    for _ in range(count):
        os.wait()
    for handle in (*answers, ends[0]):
        os.close(handle)
    return said.decode().split()


def main(tries: int = 150) -> None:
    """Try with a mark of a program that is gone, with one left by a kill, and with one given free."""
    for leave in ("stale", "killed", "released"):
        with tempfile.TemporaryDirectory() as folder:
            show = Path(folder) / "a.toml"
            show.write_text("format = 2\n", encoding="utf-8")
            wrong = sum(one_try(show, 6, leave).count("own") != 1 for _ in range(tries))
        print(f"{leave:9} {tries} tries of 6 programs: other than one owner in {wrong}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
