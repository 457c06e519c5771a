"""What can be looked up without a show: calculations, the gear library, the schema of the file."""

from __future__ import annotations

from fieldkit.commands.options import UsageError, nearest, read_options, read_words
from fieldkit.commands.output import DONE, FOUND, note, print_json, print_lines, style_of_output


def calc(arguments: list[str]) -> int:
    """Evaluate an expression, or list what can be calculated."""
    import msgspec

    from fieldkit import calculator

    arguments, options = read_options(arguments, flags=("--json", "--list"), valued=("--to",), signs=True)
    if "--list" in options:
        read_words(arguments, "", 0)
        style = style_of_output()
        print_lines(style.plain(line) for line in calculator.listing_text())
        return DONE
    if not arguments:
        raise UsageError('calc: expected an expression such as "sqrt(500 W * 8 ohm)", or "82 ft" --to m')
    result = calculator.evaluate(" ".join(arguments), options.get("--to"), ascii_only=style_of_output().ascii_only)
    if "--json" in options:
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


def models(arguments: list[str]) -> int:
    """List the models of the gear library; of one that is meant alone, print its page."""
    from fieldkit.gear import library
    from fieldkit.reports import models
    from fieldkit.reports.model_page import model_page

    words, options = read_options(arguments, flags=("--json",))
    note(library.trouble())
    every, unusable = library.every(), [str(error) for error in library.broken()]
    entries = models.found(every, words)
    for problem in unusable:
        note(f"gear library: {problem}")
    if "--json" in options:
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
    note(f"models: none matches '{' '.join(words)}'{nearest(' '.join(words), names)}")
    return FOUND


def guide(arguments: list[str]) -> int:
    """Print a page of the guide, or the list of its pages."""
    from fieldkit import guide

    style = style_of_output()
    if not arguments:
        print_lines(style.plain(f"{topic:<12} {title}") for topic, title in guide.topics().items())
        return DONE
    (topic,) = read_words(arguments, "TOPIC", 1)
    if topic not in guide.topics():
        raise UsageError(f"guide: no page '{topic}'{nearest(topic, guide.topics())}; 'fieldkit guide' lists them")
    print_lines(style.plain(line) for line in guide.page(topic).splitlines())
    return DONE


def schema(arguments: list[str]) -> int:
    """Print the JSON Schema of the show file."""
    from fieldkit.show.decoding import schema

    read_words(arguments, "", 0)
    print_json(schema())
    return DONE
