"""What differs between two texts of a show, as a person compares them."""

from __future__ import annotations

from collections.abc import Iterator


def differences(before: str, after: str) -> Iterator[str]:
    """List the lines that were taken out (-) and put in (+), each stretch under the table that it stands in."""
    import difflib

    matcher = difflib.unified_diff(before.splitlines(), after.splitlines(), n=1, lineterm="")
    for line in matcher:
        if line.startswith(("---", "+++")):
            continue
        yield "" if line.startswith("@@") else line
