"""What drives what, from the gear library alone: no show is read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import msgspec

from fieldkit.commands.command import CommandLine, UsageError, nearest
from fieldkit.commands.output import DONE, FOUND, note, print_json, print_lines, style_of_output
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Cable
from fieldkit.gear.loudspeaker import USES, Loudspeaker, Use
from fieldkit.gear.model_file import Model
from fieldkit.planning.chart.carrying import MOST_BOXES, MOST_KINDS, Wanted
from fieldkit.planning.chart.question import Candidate, Library, Terms, candidates_of, library_of
from fieldkit.show.document import UnknownBox
from fieldkit.units import Area, Impedance, Length, Power, UnitError


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
    asked = chosen(given.words, every)
    terms = read_terms(given, every)
    preferred = "--keep-preferred" in given
    style = style_of_output()
    wanted = read_wanted(given.value("--with") or "", asked, terms) if "--with" in given else []
    if wanted:
        answers = carrying.carry(wanted, asked, terms, preferred=preferred)
        if "--json" not in given:
            print_lines(chart_sets.carrying_text(answers, wanted, style))
            return DONE if answers else FOUND
        # The cells are of these boxes alone.
        names = {item.candidate.name for item in wanted}
        asked = msgspec.structs.replace(
            asked, loudspeakers=tuple(model for model in asked.loudspeakers if model.id in names)
        )
    cells = cells_of(asked, terms)
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


def _names_boxes(words: Sequence[str], asked: Library) -> bool:
    """Tell whether somebody said which boxes are meant, few enough to hold every combination of them."""
    return bool(words) and len(asked.loudspeakers) + len(asked.unknown) <= MOST_NAMED


MOST_NAMED = 4


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


ITEM = re.compile(r"\s*(?:(?P<count>\d{1,3})\s*(?:x\s|×)?\s*)?(?P<what>.+?)\s*")


def read_wanted(text: str, asked: Library, terms: Terms) -> list[Wanted]:
    """Read a list of boxes: ``4 two-way-12-inch bi-amp, 2 sub-double-18-inch``. Raises UsageError.

    Where subs are among them, tops out front are meant with a sub unless the use is said.
    """
    pieces = [piece for piece in text.split(",") if piece.strip()]
    if not pieces:
        raise UsageError("--with: expected a list such as '4 two-way-12-inch bi-amp, 2 sub-double-18-inch'")
    counts: dict[str, int] = {}
    found: dict[str, Candidate] = {}
    for use in (terms.use, "with sub"):
        every = candidates_of(asked, msgspec.structs.replace(terms, use=use))
        counts = {}
        for piece in pieces:
            count, candidate = _item(piece, every, terms)
            counts[candidate.title] = counts.get(candidate.title, 0) + count
            if use == terms.use or (candidate.has_all_presets and candidate.title in found):
                found[candidate.title] = candidate
        subs = [item.is_sub for item in found.values()]
        if terms.use is not None or not any(subs) or all(subs):
            break
    boxes = sum(counts.values())
    if len(counts) > MOST_KINDS or boxes > MOST_BOXES:
        raise UsageError(
            f"--with: expected at most {MOST_KINDS} kinds and {MOST_BOXES} boxes, got {len(counts)} and {boxes}; "
            "plan so many in a show, with 'fieldkit assign'"
        )
    return [Wanted(found[title], count) for title, count in counts.items()]


def _item(piece: str, every: Sequence[Candidate], terms: Terms) -> tuple[int, Candidate]:
    """Read one kind of a list. Raises UsageError."""
    match = ITEM.fullmatch(piece)
    count, what = (match["count"] or "1", match["what"]) if match else ("1", piece.strip())
    label = read_label(piece) or read_label(what)
    if label is not None:
        number = 1 if read_label(piece) else int(count)
        return _many(number, piece), candidates_of(Library((), (), (), (), (label,)), terms)[0]
    named = [item for item in every if what in (item.title, item.name, f"{item.name} {item.drive}")]
    if not named:
        wanted = what.casefold().split()
        named = [item for item in every if all(word in f"{item.name} {item.drive}".casefold() for word in wanted)]
    names = list(dict.fromkeys(item.name for item in named))
    if len(names) != 1:
        said = f"'{what[:60]}' may be {', '.join(names)}" if names else f"no box '{what[:60]}'"
        near = "" if names else nearest(what, [item.name for item in every])
        raise UsageError(f"--with: {said}{near}; expected a number and a box, as in '4 two-way-12-inch bi-amp'")
    if not named[0].is_usable:
        raise UsageError(f"--with: {named[0].title}: {'; '.join(named[0].gaps)}")
    # Of a box with several drives, passive is what is taken where nobody says.
    return _many(int(count), piece), named[0]


def _many(count: int, piece: str) -> int:
    if count < 1:
        raise UsageError(f"--with: expected one box or more, got '{piece.strip()[:60]}'")
    return count


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
