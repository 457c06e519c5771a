"""What can be looked up without a show: calculations, the gear library, the schema of the file."""

from __future__ import annotations

from fieldkit.commands.command import CommandLine, UsageError, nearest
from fieldkit.commands.output import DONE, FOUND, note, print_json, print_lines, style_of_output


def calc(given: CommandLine) -> int:
    """Evaluate an expression, or list what can be calculated."""
    import msgspec

    from fieldkit import calculator

    if "--list" in given:
        style = style_of_output()
        print_lines(style.plain(line) for line in calculator.listing_text())
        return DONE
    result = calculator.evaluate(" ".join(given.words), given.value("--to"), ascii_only=style_of_output().ascii_only)
    if "--json" in given:
        print_json(
            {
                "value": result.value,
                "unit": result.unit,
                "text": result.text,
                "formulas": [msgspec.to_builtins(used) for used in result.used],
            }
        )
    else:
        print_lines([result.text])
    return DONE


def models(given: CommandLine) -> int:
    """List the models of the gear library; of one that is meant alone, print its page."""
    from fieldkit.gear import library
    from fieldkit.reports import models
    from fieldkit.reports.model_page import model_page

    note(library.trouble())
    every, unusable = library.every(), [str(error) for error in library.broken()]
    entries = models.found(every, given.words)
    for problem in unusable:
        note(f"gear library: {problem}")
    if "--json" in given:
        print_json(models.models_object(entries, unusable))
    elif len(entries) == 1:
        style = style_of_output()
        page = model_page(entries[0].model, [entry.model for entry in every], own=entries[0].own)
        print_lines(style.plain(line) for line in page)
    else:
        print_lines(models.models_text(entries, style_of_output()))
    if entries:
        return DONE
    names = [entry.model.id for entry in every]
    note(f"models: none matches '{' '.join(given.words)}'{nearest(' '.join(given.words), names)}")
    return FOUND


def guide(given: CommandLine) -> int:
    """Print a page of the guide, or the list of its pages."""
    from fieldkit import guide

    style = style_of_output()
    if not given.words:
        print_lines(style.plain(f"{topic:<12} {title}") for topic, title in guide.topics().items())
        return DONE
    topic = given.words[0]
    if topic not in guide.topics():
        near = nearest(topic, guide.topics()) or f"; there are {', '.join(guide.topics())}"
        raise UsageError(f"guide: no page '{topic}'{near}")
    print_lines(style.plain(line) for line in guide.page(topic).splitlines())
    return DONE


def schema(_given: CommandLine) -> int:
    """Print the JSON Schema of the show file."""
    from fieldkit.show.decoding import schema

    print_json(schema())
    return DONE
