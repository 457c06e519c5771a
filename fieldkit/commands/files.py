"""What writes files: a new show, the pages for the crew."""

from __future__ import annotations

from pathlib import Path

from fieldkit.commands.command import CommandLine, UsageError, nearest, read_choice
from fieldkit.commands.output import DONE, one_line, print_lines, style_of_output
from fieldkit.commands.shows import load_show, named_as_typed


def new(given: CommandLine) -> int:
    """Write a new show, empty or a copy of a sample."""
    from fieldkit import samples
    from fieldkit.show.keep.storage import create

    name = given.words[0]
    source = Path(__file__).parents[1] / "show" / "starter.toml"
    sample = given.value("--sample")
    if sample is not None:
        known = samples.names()
        if sample.removesuffix(".toml") not in known:
            others = nearest(sample, known) or f"; there are {', '.join(known)}"
            raise UsageError(f"new: no sample '{sample}'{others}")
        source = samples.folder() / f"{sample.removesuffix('.toml')}.toml"
    if not name.strip():
        raise UsageError("new: expected the name of a new file, such as hall.toml")
    with named_as_typed(name):
        create(Path(name), source.read_text(encoding="utf-8"))
    shown = one_line(name)
    print_lines([f"{shown} is written; 'fieldkit check {shown}' looks it over"])
    return DONE


def sheet_names() -> list[tuple[str, str]]:
    """List the pages for the crew by name, each with what it is for."""
    from fieldkit.sheets.collection import PAGES

    return [(name, page.purpose) for name, page in PAGES.items()]


def sheets(given: CommandLine) -> int:
    """Write the pages for the crew into a folder."""
    from fieldkit.sheets.collection import PAGES, make_pages, page_keys
    from fieldkit.sheets.folder import FORMATS, files_of, summary, write_files
    from fieldkit.sheets.material import UNITS, material_of

    formats = read_choice(given, "--formats", FORMATS)
    units = given.value("--units")
    if units is not None and units not in UNITS:
        near = nearest(units, UNITS) or f"; there are {', '.join(UNITS)}"
        raise UsageError(f"--units: unknown '{units}'{near}")
    material = material_of(load_show(given.words[0]), units)
    names = read_choice(given, "--pages", tuple(dict.fromkeys((*PAGES, *page_keys(material)))))
    since = given.value("--since")
    older = material_of(load_show(since), material.units) if since is not None else None
    pages = make_pages(material, names, older)
    folder = given.values("-o")[-1]
    written = write_files(Path(folder), files_of(pages, formats, material))
    print_lines(summary(pages, written, folder, style_of_output()))
    return DONE
