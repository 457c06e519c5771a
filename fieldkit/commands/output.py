"""How a command speaks: exit status, lines for whoever reads them, JSON, one line on standard error."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from fieldkit.text.style import Style
from fieldkit.text.words import printable

DONE, FOUND, UNUSABLE = 0, 1, 2


INTERRUPTED = 130
"""Stopped from the keyboard: 128 and the number of the signal, as shells have it."""


def has_terminal() -> bool:
    """Tell whether somebody sits there: without a terminal the checked plan is printed."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "") != "dumb"


def prepare_output() -> None:
    """Let a character that the terminal cannot show be spelled, never be a traceback; without streams, be mute."""
    if sys.stdout is None:  # started with the stream closed (`>&-`)
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115  (it lives as long as the program)
    if sys.stderr is None:
        sys.stderr = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def drop_output() -> None:
    """Send the rest of standard output nowhere, so that the program ends without a word."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def style_of_output() -> Style:
    """Choose the style that standard output can show."""
    return Style(ascii_only=is_ascii_only())


def is_ascii_only() -> bool:
    """Tell whether standard output shows ASCII alone."""
    encoding = (sys.stdout.encoding or "ascii").lower().replace("-", "")
    return not encoding.startswith("utf")


def print_lines(lines: Iterable[str]) -> None:
    """Print lines for as long as somebody reads them; the exit status is that of the work, whoever reads it."""
    try:
        for line in lines:
            print(line)
        sys.stdout.flush()
    except BrokenPipeError:
        drop_output()  # whoever reads has had enough (`| head`)


def print_json(value: Any) -> None:
    """Print an object as JSON, in ASCII where there is no more."""
    import msgspec

    text = msgspec.json.format(msgspec.json.encode(value), indent=2).decode()
    ascii_only = is_ascii_only()
    print_lines(
        line
        if line.isprintable() and not (ascii_only and not line.isascii())
        else _json_line(line, ascii_only=ascii_only)
        for line in text.split("\n")
    )


def _json_line(line: str, *, ascii_only: bool) -> str:
    """Write what a terminal cannot show, or would obey, as JSON spells it, by its number."""
    import json

    return "".join(
        mark if mark.isprintable() and (mark.isascii() or not ascii_only) else json.dumps(mark)[1:-1] for mark in line
    )


def one_line(text: str) -> str:
    """Put a text into one printable line."""
    return printable(text, 500)


def note(text: str) -> None:
    """Say something about the surroundings of the work, where there is something to say."""
    if text:
        print(f"fieldkit: {one_line(text)}", file=sys.stderr)
