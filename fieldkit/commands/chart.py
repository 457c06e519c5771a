"""What drives what, from the gear library alone: no show is read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from fieldkit.commands.command import CommandLine, UsageError, nearest
from fieldkit.commands.output import DONE, note, print_json, print_lines, style_of_output
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Cable
from fieldkit.gear.loudspeaker import USES, Loudspeaker, Use
from fieldkit.gear.model_file import Model
from fieldkit.planning.chart.question import Library, Terms, library_of
from fieldkit.show.document import UnknownBox
from fieldkit.units import Area, Impedance, Length, Power, UnitError


def chart(given: CommandLine) -> int:
    """Print what each amplifier drives: how many, what sets that, watts, headroom, presets."""
    from fieldkit.gear import library
    from fieldkit.planning.chart.cells import chart as cells_of
    from fieldkit.reports.chart import cell_lines, chart_object, chart_text

    note(library.trouble())
    every = [entry.model for entry in library.every()]
    for problem in library.broken():
        note(f"gear library: {problem}")
    asked = chosen(given.words, every)
    terms = read_terms(given, every)
    cells = cells_of(asked, terms)
    style = style_of_output()
    if "--json" in given:
        print_json(chart_object(cells, asked, terms))
    elif len(cells) == 1:
        print_lines(style.plain(line) for line in cell_lines(cells[0]))
    else:
        print_lines(chart_text(cells, asked, terms, style))
    return DONE


LABEL = re.compile(r"\s*(?P<ohm>[\d.,]+\s*(?:ohms?|Ω))\s*[/,: ]\s*(?P<watt>[\d.,]+\s*k?W)\s*", re.IGNORECASE)
"""A box without a data sheet, as its label has it: ``8ohm/300W``."""


def read_label(text: str) -> UnknownBox | None:
    """Read ohms and watts of a box without a data sheet; None where the text is none. Raises UnitError."""
    match = LABEL.fullmatch(text)
    return UnknownBox(impedance=Impedance(match["ohm"]), continuous=Power(match["watt"])) if match else None


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
    """Read on which terms the chart is asked for. Raises UsageError and UnitError."""
    use, preferred, lead = (given.value(name) for name in ("--use", "--preferred", "--cable"))
    cable, length_m = read_cable(lead, models) if lead is not None else (None, 0.0)
    return Terms(
        preferred_ohm=Impedance(preferred).value if preferred is not None else Terms().preferred_ohm,
        cable=cable,
        length_m=length_m,
        use=_use(use) if use is not None else None,
    )


def _use(text: str) -> Use:
    for use in USES:
        if text.strip().casefold() == use:
            return use
    raise UsageError(f"--use: expected one of {', '.join(USES)}, got '{text[:80]}'")


def read_cable(text: str, models: Sequence[Model]) -> tuple[Cable, float]:
    """Read a lead: a model of cable or the area of its cores, then its length. Raises UsageError and UnitError."""
    wanted = "expected a cable and its length, as in 'four-core-2.5 20 m' or '2.5 mm² 20 m'"
    name, _, rest = text.strip().partition(" ")
    cables = {model.id: model for model in models if isinstance(model, Cable)}
    if name in cables:
        if not rest.strip():
            raise UsageError(f"--cable: {wanted}, got '{text[:80]}'")
        return cables[name], Length(rest).value
    match = re.fullmatch(r"\s*([\d.,]+\s*(?:mm²|mm2|AWG))\s+(.+)", text, re.IGNORECASE)
    if match is None:
        raise UsageError(f"--cable: {wanted}, got '{text[:80]}'{nearest(name, cables)}")
    try:
        area = Area(match[1])
    except UnitError as error:
        raise UsageError(f"--cable: {error}") from error
    return Cable(id=str(area), cores=8, area=area), Length(match[2]).value
