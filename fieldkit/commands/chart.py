"""What drives what, from the gear library alone: no show is read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import msgspec

from fieldkit.commands.command import CommandLine, UsageError, nearest
from fieldkit.commands.output import DONE, FOUND, note, print_json, print_lines, style_of_output
from fieldkit.errors import UnusableError
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.model_file import Model
from fieldkit.planning.chart.asking import read_cable, read_label, read_use, read_wanted
from fieldkit.planning.chart.cells import MODES
from fieldkit.planning.chart.question import Library, Terms, library_of
from fieldkit.show.document import About, Show, UnknownBox
from fieldkit.units import Impedance


def chart(given: CommandLine) -> int:
    """Print what each amplifier drives: how many, what sets that, watts, headroom, presets."""
    from fieldkit.gear import library
    from fieldkit.planning.chart import carrying, sets
    from fieldkit.planning.chart.cells import chart as cells_of
    from fieldkit.reports import chart_sets
    from fieldkit.reports.chart import cell_lines, chart_object, chart_text

    note(library.trouble())
    every = [entry.model for entry in library.every()]
    for problem in library.broken():
        note(f"gear library: {problem}")
    ways = [word for word in given.words if word in WAYS]
    asked = chosen([word for word in given.words if word not in WAYS], every)
    terms = read_terms(given, every)
    if "-o" in given:
        return _on_paper(asked, terms, given.values("-o")[-1])
    preferred = "--keep-preferred" in given
    style = style_of_output()
    with _said_of("--with"):
        wanted = read_wanted(given.value("--with") or "", asked, terms) if "--with" in given else []
    if wanted:
        answers = carrying.carry(wanted, asked, terms, preferred=preferred)
        if "--json" not in given:
            print_lines(chart_sets.carrying_text(answers, wanted, style))
            return DONE if answers else FOUND
        # The cells are of these boxes alone.
        names = {item.candidate.name for item in wanted}
        asked = msgspec.structs.replace(
            asked,
            loudspeakers=tuple(model for model in asked.loudspeakers if model.id in names),
            unknown=tuple(item.candidate.unknown for item in wanted if item.candidate.unknown),
        )
    cells = tuple(cell for cell in cells_of(asked, terms) if _is_way(cell.mode, cell.candidate.drive, ways))
    if len(cells) == 1 and "--json" not in given:
        print_lines(style.plain(line) for line in cell_lines(cells[0]))
        return DONE
    found = sets.sets_of(cells, terms, named=bool(wanted) or _names_boxes(given.words, asked), preferred=preferred)
    if "--json" in given:
        more = chart_sets.carrying_object(answers, wanted) if wanted else {}
        print_json(chart_object(cells, asked, terms) | chart_sets.sets_object(found) | more)
        return FOUND if wanted and not answers else DONE
    print_lines([*chart_text(cells, asked, terms, style), "", *chart_sets.sets_text(found, style)])
    return DONE


WAYS = (*MODES, "passive", "bi-amp")
"""Words that pick modes of amplifiers and drives of boxes."""


def _is_way(mode: str, drive: str, ways: Sequence[str]) -> bool:
    """Tell whether a cell is of a mode and a drive that the words name; of what they leave open, any is."""
    modes, drives = [way for way in ways if way in MODES], [way for way in ways if way not in MODES]
    return (not modes or mode in modes) and (not drives or drive in drives)


def _on_paper(asked: Library, terms: Terms, folder: str) -> int:
    """Write the page of these models, as a show that has nothing but them would."""
    from fieldkit.sheets.collection import make_pages
    from fieldkit.sheets.folder import files_of, summary, write_files
    from fieldkit.sheets.material import material_of

    preferred = Impedance(f"{terms.preferred_ohm:g} ohm")
    show = Show(
        about=About(name="gear library", preferred_load=preferred),
        loudspeakers=asked.loudspeakers,
        amplifiers=asked.amplifiers,
        processors=asked.processors,
    )
    pages = make_pages(material_of(show), ["chart"])
    written = write_files(Path(folder), files_of(pages))
    print_lines(summary(pages, written, folder, style_of_output()))
    return DONE


def _names_boxes(words: Sequence[str], asked: Library) -> bool:
    """Tell whether somebody said which boxes are meant, few enough to hold every combination of them."""
    return bool(words) and len(asked.loudspeakers) + len(asked.unknown) <= MOST_NAMED


MOST_NAMED = 4


def chosen(words: Sequence[str], models: Sequence[Model]) -> Library:
    """Pick what the words of a command line name; of a kind that no word names, all are taken.

    A word is a model's id, a part of one, or ohms and watts of a label. Raises UsageError.
    """
    whole = library_of(models)
    charted: tuple[Amplifier | Loudspeaker, ...] = (*whole.amplifiers, *whole.loudspeakers)
    names: set[str] = set()
    labels: list[UnknownBox] = []
    for word in words:
        label = read_label(word)
        if label is not None:
            labels.append(label)
            continue
        found = _named(word, charted)
        if not found:
            known = [model.id for model in charted]
            raise UsageError(
                f"chart: no amplifier or loudspeaker '{word[:80]}' in the gear library{nearest(word, known)}; "
                "a box without a data sheet is written 8ohm/300W"
            )
        names |= found
    amplifiers = tuple(model for model in whole.amplifiers if model.id in names)
    boxes = tuple(model for model in whole.loudspeakers if model.id in names)
    return Library(
        amplifiers=amplifiers or whole.amplifiers,
        loudspeakers=boxes if boxes or labels else whole.loudspeakers,
        processors=whole.processors,
        adaptors=whole.adaptors,
        unknown=tuple(labels),
    )


def _named(word: str, models: Iterable[Amplifier | Loudspeaker]) -> set[str]:
    """Find the models that a word names: the one of this id, else those whose id or description holds it."""
    every = list(models)
    if any(model.id == word for model in every):
        return {word}
    wanted = word.casefold()
    return {model.id for model in every if wanted in f"{model.id} {model.description}".casefold()}


def read_terms(given: CommandLine, models: Sequence[Model]) -> Terms:
    """Read on which terms the chart is asked for. Raises UsageError."""
    use, preferred, lead = (given.value(name) for name in ("--use", "--preferred", "--cable"))
    with _said_of("--cable"):
        cable, length_m = read_cable(lead, models) if lead is not None else (None, 0.0)
    with _said_of("--preferred"):
        preferred_ohm = Impedance(preferred).value if preferred is not None else Terms().preferred_ohm
    with _said_of("--use"):
        known = read_use(use) if use is not None else None
    return Terms(preferred_ohm=preferred_ohm, cable=cable, length_m=length_m, use=known)


@contextmanager
def _said_of(option: str) -> Iterator[None]:
    """Say of which option it is that a value cannot be used."""
    try:
        yield
    except UnusableError as error:
        raise UsageError(f"{option}: {error}") from error
