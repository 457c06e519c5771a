"""What the program proposes: outputs, runs and inputs for the boxes."""

from __future__ import annotations

from pathlib import Path

from fieldkit.commands.options import read_options, read_words
from fieldkit.commands.output import DONE, FOUND, print_json, print_lines, style_of_output


def assign(arguments: list[str]) -> int:
    """Propose a plan for what nothing drives yet, and write it where asked."""
    from fieldkit.planning.assign import assign
    from fieldkit.show.opening import open_show
    from fieldkit.show.storage import save

    arguments, options = read_options(arguments, flags=("--json",), valued=("-o",))
    (name,) = read_words(arguments, "SHOW", 1)
    opened = open_show(name)
    proposal = assign(opened.show)
    if "-o" in options:
        save(opened.stored, proposal.show, Path(options["-o"]))
    if "--json" in options:
        from fieldkit.reports.proposals import assign_object

        print_json(assign_object(proposal))
    else:
        from fieldkit.reports.proposals import assign_text

        print_lines(assign_text(proposal, style_of_output()))
    return DONE if proposal.holds else FOUND
