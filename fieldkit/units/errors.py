"""The one error of this package: text that is not the quantity that was asked for."""

from __future__ import annotations

from fieldkit.errors import UnusableError

SHOWN_LIMIT = 60
"""Characters of a person's text that an error message repeats at most."""


class UnitError(UnusableError):
    """Text that cannot be read as the quantity that is expected, in parts and as one line.

    text: what was typed
    expected: what would have been right, with its article: "a length (m, mm, ft, in)"
    problem: what is wrong with the text, as a clause: "which is a mass"; may be empty
    hint: what to write instead; may be empty
    """

    def __init__(self, text: object, expected: str, problem: str = "", hint: str = "") -> None:
        super().__init__(text, expected, problem, hint)
        self.text = text
        self.expected = expected
        self.problem = problem
        self.hint = hint

    def __str__(self) -> str:
        line = f"expected {self.expected}, got {shown(self.text)}"
        if self.problem:
            line += f", {self.problem}"
        return f"{line}; {self.hint}" if self.hint else line


def shown(text: object, limit: int = SHOWN_LIMIT) -> str:
    """Quote a text for one line of a message: unprintable characters escaped, long ones cut short.

    Values that are not text are shown as written in code, without quotes.
    """
    # One character over the limit is enough to see that it is over; escapes only make it longer.
    quoted = repr(text[: limit + 1]) if isinstance(text, str) else repr(text)
    if len(quoted) <= limit + 2:
        return quoted
    ending = "..." + quoted[-1] if isinstance(text, str) else "..."
    return quoted[: limit + 2 - len(ending)] + ending
