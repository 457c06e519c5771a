"""What the terminal at hand can show, and what the line to it can carry."""

from __future__ import annotations

import locale
import os
from collections.abc import Mapping

import msgspec

MINIMUM_COLUMNS, MINIMUM_ROWS = 80, 24


class Terminal(msgspec.Struct, frozen=True):
    """What was found out about the terminal before the first screen."""

    remote: bool
    """Over SSH: no mouse, no animation, no blinking, an ANSI theme."""
    colour: bool
    ascii_only: bool
    few_colours: bool = False
    """Sixteen at the most: shades would fall together, so that an ANSI theme is used."""

    @property
    def plain(self) -> bool:
        """Whether the terminal's own colours are used, and none of ours."""
        return self.remote or self.few_colours or not self.colour


def look(environment: Mapping[str, str] | None = None) -> Terminal:
    """Look at the environment that the program was started in."""
    environment = os.environ if environment is None else environment
    encoding = locale.getpreferredencoding(do_setlocale=False).lower().replace("-", "")
    # As Textual's console tells it, which paints with what these words say and never asks the terminal.
    many = (
        os.name == "nt"
        or environment.get("COLORTERM", "").strip().lower() in {"truecolor", "24bit"}
        or environment.get("TERM", "").strip().lower().endswith(("-256color", "-kitty"))
    )
    return Terminal(
        remote="SSH_CONNECTION" in environment or "SSH_TTY" in environment,
        colour="NO_COLOR" not in environment,
        ascii_only=not encoding.startswith("utf"),
        few_colours=not many,
    )
