"""What writes files: a new show, the pages for the crew."""

from __future__ import annotations

from pathlib import Path

from fieldkit.commands.options import (
    UsageError,
    load_show,
    named_as_typed,
    nearest,
    read_choice,
    read_options,
    read_words,
)
from fieldkit.commands.output import DONE, one_line, print_lines, style_of_output


def new(arguments: list[str]) -> int:
    """Write a new show, empty or a copy of a sample."""
    from fieldkit import samples
    from fieldkit.show.keep.storage import create

    arguments, options = read_options(arguments, valued=("--sample",))
    (name,) = read_words(arguments, "FILE", 1)
    source = Path(__file__).parents[1] / "show" / "starter.toml"
    sample = options.get("--sample")
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


def sheets(arguments: list[str]) -> int:
    """Write the pages for the crew into a folder."""
    from fieldkit.sheets.collection import PAGES, make_pages
    from fieldkit.sheets.folder import FORMATS, files_of, summary, write_files
    from fieldkit.sheets.material import UNITS, material_of

    options_known = ("-o", "--since", "--pages", "--formats", "--units")
    arguments, options = read_options(arguments, valued=options_known)
    (name,) = read_words(arguments, "SHOW", 1)
    if "-o" not in options:
        raise UsageError("sheets: expected -o FOLDER, where to write the pages")
    names = read_choice(options, "--pages", tuple(PAGES))
    formats = read_choice(options, "--formats", FORMATS)
    units = options.get("--units")
    if units is not None and units not in UNITS:
        raise UsageError(f"--units: unknown '{units}'{nearest(units, UNITS)}; there are {', '.join(UNITS)}")
    material = material_of(load_show(name), units)
    since = options.get("--since")
    older = material_of(load_show(since), material.units) if since is not None else None
    pages = make_pages(material, names, older)
    written = write_files(Path(options["-o"]), files_of(pages, formats))
    print_lines(summary(pages, written, options["-o"], style_of_output()))
    return DONE
