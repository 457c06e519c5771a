"""What the program proposes: outputs, runs and inputs for the boxes."""

from __future__ import annotations

from fieldkit.commands.options import open_named, read_options, read_words, write_named
from fieldkit.commands.output import DONE, FOUND, print_json, print_lines, style_of_output


def assign(arguments: list[str]) -> int:
    """Propose a plan for what nothing drives yet, and write it where asked."""
    from fieldkit.planning.assign.plan import assign

    arguments, options = read_options(arguments, flags=("--json",), valued=("-o",))
    (name,) = read_words(arguments, "SHOW", 1)
    opened = open_named(name)
    proposal = assign(opened.show)
    written = [write_named(opened, proposal.show, options["-o"])] if "-o" in options else []
    if "--json" in options:
        from fieldkit.reports.proposals import assign_object

        print_json(assign_object(proposal))
    else:
        from fieldkit.reports.proposals import assign_text

        style = style_of_output()
        print_lines([*assign_text(proposal, style), *map(style.plain, written)])
    return DONE if proposal.holds else FOUND
