"""The sample shows that travel with the program."""

from __future__ import annotations

from pathlib import Path


def folder() -> Path:
    """Find the samples: inside the installed package, else beside it in a checkout."""
    inside = Path(__file__).parent / "sample_shows"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "sample_shows"


def names() -> list[str]:
    """List the samples by name."""
    return sorted(path.stem for path in folder().glob("*.toml"))
