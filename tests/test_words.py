"""One word for one thing: words that were given up do not come back, in code, texts, pages, samples and guide."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
RETIRED = {
    r"\bleast[ _](load|loads|ohm|impedance|damping|rating|watts|volts|rack)\b": "minimum",
    r"\b(under|below) (the|its|their) least\b|\w(?<!at)_least\b|\bleast_\w": "minimum",
    r"\b(cure|cures|cured|curing|mend|mends|mended|mending)\b": "fix",
    r"\bdead\b|\bdies\b|\bdied\b|_dead\b|\bdead_": "failed",
    r"--lost\b|\[\[lost\]\]|\blost_now\b|\bwhich is lost\b": "failed",
    r"\bMains screen\b|\bMains, [a-z]\b|\bfieldkit mains\b|\bSCREEN = \"mains\"": "supply",
    r"uses = \[[^\]]*\"alone\"|\bused alone\b": "full range",
    r"\b\d+ advice\b|\bworth advice\b|\"advice\"": "note",
    r"\bhirers?\b": "hire company",
    r"\bnothing to say against\b": "what is so, in plain words",
    r"[\"'](alone|with-sub|wedge)-\d+[\"']": "a preset's name without numbers",
    r"\bclass (Ground|Bench|Hand|Taken|User|Inquiry|Stage|Cure|Lost)\b": "a name that an engineer would search for",
}
"""Pattern of what was given up -> what is said now."""
EARLIER = {"fieldkit/show/migration.py", "fieldkit/gear/model_file.py", "fieldkit/commands/earlier.py"}
"""They know the words of older files, and what commands and options were called."""
SUFFIXES = {".py", ".md", ".toml", ".j2"}

FILES = [
    path
    for folder in ("fieldkit", "sample_shows")
    for path in sorted((ROOT / folder).rglob("*"))
    if path.suffix in SUFFIXES and path.relative_to(ROOT).as_posix() not in EARLIER
] + [ROOT / "README.md", ROOT / "DEVELOPERS.md"]
TEXTS = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in FILES}


@pytest.mark.parametrize(("pattern", "word"), RETIRED.items(), ids=RETIRED.values())
def test_no_retired_word_comes_back(pattern, word):
    found = [
        f"{name}:{len(text[: match.start()].splitlines()) or 1}: {match.group()} (say: {word})"
        for name, text in TEXTS.items()
        for match in re.finditer(pattern, text)
    ]
    assert found == []


def glossary():
    """Read the words of the table in DEVELOPERS.md."""
    part = TEXTS["DEVELOPERS.md"].partition("## Words\n")[2].partition("\n## ")[0]
    return [row.split("|")[1].strip() for row in part.splitlines() if row.startswith("| ")][2:]


def test_the_glossary_is_short_and_each_word_is_used():
    words = glossary()
    assert 15 <= len(words) <= 30
    assert len(set(words)) == len(words)
    everything = "\n".join(text for name, text in TEXTS.items() if name != "DEVELOPERS.md").lower()
    assert [word for word in words if word.lower() not in everything] == []
