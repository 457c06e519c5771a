"""What users read: a page a task, in Markdown of 79 columns, shown by the program and readable as files."""

from __future__ import annotations

from pathlib import Path

FOLDER = Path(__file__).parent


def topics() -> dict[str, str]:
    """List the pages: topic and title, in the order of the alphabet."""
    return {path.stem: _title(path) for path in sorted(FOLDER.glob("*.md"))}


def page(topic: str) -> str:
    """Read a page as text. Raises KeyError for a topic that has none."""
    if topic not in topics():
        raise KeyError(topic)
    return (FOLDER / f"{topic}.md").read_text(encoding="utf-8")


def _title(path: Path) -> str:
    with path.open(encoding="utf-8") as file:
        return file.readline().removeprefix("# ").strip()
